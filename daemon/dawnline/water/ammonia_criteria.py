"""From how much total ammonia serious harm is to be expected. A mark of danger; what lies below is not "allowed".

US EPA (2013): Aquatic Life Ambient Water Quality Criteria for Ammonia - Freshwater, EPA-822-R-13-001. They protect
wild populations from harm that shows, averaged over an hour (acute) and 30 days (chronic); a kept fish that is to
thrive wants nearly none. Formulas at second hand, from a state's assessment code that cites its own rule
(9VAC25-260-155); held against the printed anchor of 17 and 1.9 mg/L at pH 7 and 20 degC. All in mg/L total ammonia
as N; pH 6.5 to 9 and 0 to 30 degC, beyond that drawn on.
"""

from __future__ import annotations

from dawnline.water.ranges import check_ph, check_temperature


def acute_criterion(ph: float, temperature_c: float, *, salmonids: bool = False, mussels: bool = False) -> float:
    """One-hour average [mg/L TAN as N] beyond which fish die; by default warm-water fish alone, as in a koi pond.

    `salmonids` stands for trout and salmon, `mussels` for the river mussels that are the most sensitive of all. Raises
    ValueError outside pH 0 to 14 and 0 to 50 degC.

    >>> round(acute_criterion(7.0, 20.0, salmonids=True, mussels=True), 1)  # printed: 17
    16.8
    >>> round(acute_criterion(8.5, 25.0), 2)
    2.64
    """
    check_ph(ph)
    check_temperature(temperature_c)
    by_ph = 0.7249 * _sides(ph, 7.204, 0.0114, 1.6181)
    warmth = float(10.0 ** (0.036 * (20.0 - temperature_c)))
    most = by_ph * min(51.93, (23.12 if mussels else 62.15) * warmth)
    return min(most, _sides(ph, 7.204, 0.275, 39.0)) if salmonids else most


def chronic_criterion(ph: float, temperature_c: float, *, mussels: bool = False, young: bool = True) -> float:
    """Thirty-day average [mg/L TAN as N] beyond which fish suffer; `young` where there are eggs, fry or small fish.

    Raises ValueError outside pH 0 to 14 and 0 to 50 degC.

    >>> round(chronic_criterion(7.0, 20.0, mussels=True), 1)  # printed: 1.9
    1.9
    >>> round(chronic_criterion(8.0, 25.0), 2)
    2.12
    """
    check_ph(ph)
    check_temperature(temperature_c)
    by_ph = _sides(ph, 7.688, 0.0278, 1.1994)
    if mussels:
        return 0.8876 * by_ph * 2.126 * _cooling(max(temperature_c, 7.0))
    if young:
        return 0.9405 * by_ph * min(6.920, 7.547 * _cooling(temperature_c))
    return 0.9405 * by_ph * 7.547 * _cooling(max(temperature_c, 7.0))


def _cooling(temperature_c: float) -> float:
    return float(10.0 ** (0.028 * (20.0 - temperature_c)))


def _sides(ph: float, middle: float, low: float, high: float) -> float:
    """A fall from `high` in acid water to `low` in alkaline water, through the mean at pH `middle`."""
    return float(low / (1.0 + 10.0 ** (middle - ph)) + high / (1.0 + 10.0 ** (ph - middle)))
