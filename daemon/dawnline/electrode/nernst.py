"""Nernst's equation for a pH electrode: so many millivolts a pH unit, by temperature.

Automatic temperature compensation is no more than this slope: it corrects the electrode. That the water's own pH
changes with its temperature is real, and stays.
"""

from __future__ import annotations

from math import log
from typing import Final

GAS: Final = 8.31446261815324  # J/(mol K), exact; CODATA 2018
FARADAY: Final = 96485.33212331001  # C/mol, exact; CODATA 2018
ZERO_C: Final = 273.15  # K
NEUTRAL: Final = 7.0  # pH at which an ideal electrode gives 0 mV (by the makers' convention)
_MV_PER_K: Final = 1000.0 * log(10.0) * GAS / FARADAY


def slope_mv(temperature_c: float) -> float:
    """Millivolts by which an ideal electrode falls for each pH unit [mV], at `temperature_c` [degC].

    k = ln(10) R T / F, with the constants of CODATA 2018.

    >>> round(slope_mv(25.0), 3)
    59.159
    """
    return _MV_PER_K * (temperature_c + ZERO_C)
