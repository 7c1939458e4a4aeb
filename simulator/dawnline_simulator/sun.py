"""Where the sun stands and how bright it is: nothing is asked of the forecaster's sun, so neither can hide
a fault.
"""

from __future__ import annotations

from math import cos, exp, pi, radians, sin

_DAY_MS = 86_400_000
_YEAR_DAYS = 365.25


def sine_of_elevation(at: int, latitude: float, longitude: float) -> float:
    """Sine of the sun's height above the horizon; `at` in Unix ms, degrees north and east.

    Declination and equation of time after Spencer (1971), Search 2(5), 172 (from memory), good to a few
    arc minutes.

    >>> round(sine_of_elevation(1_782_043_200_000, 47.95, 8.21), 2)  # 2026-06-21 12:00 UTC: 64 degrees up
    0.9
    """
    days = at / _DAY_MS
    angle = 2.0 * pi * ((days + 0.5) % _YEAR_DAYS - 0.5) / _YEAR_DAYS  # in step to half a day
    c1, s1, c2, s2 = cos(angle), sin(angle), cos(2 * angle), sin(2 * angle)
    declination = (
        0.006918 - 0.399912 * c1 + 0.070257 * s1 - 0.006758 * c2 + 0.000907 * s2
        - 0.002697 * cos(3 * angle) + 0.00148 * sin(3 * angle)
    )  # fmt: skip
    minutes = 229.18 * (0.000075 + 0.001868 * c1 - 0.032077 * s1 - 0.014615 * c2 - 0.040849 * s2)
    hour_angle = 2.0 * pi * (days % 1.0 + minutes / 1440.0 - 0.5) + radians(longitude)
    north = radians(latitude)
    return sin(north) * sin(declination) + cos(north) * cos(declination) * cos(hour_angle)


def irradiance_w_m2(sine_elevation: float, cloud: float) -> float:
    """Global irradiance on the level [W/m2] under `cloud` (0 clear, 1 overcast).

    Clear sky after Haurwitz (1945), J. Meteorol. 2, 154; clouds after Kasten and Czeplak (1980), Solar
    Energy 24, 177 (both from memory).

    >>> round(irradiance_w_m2(1.0, 0.0)), round(irradiance_w_m2(1.0, 1.0)), irradiance_w_m2(-0.1, 0.0)
    (1037, 259, 0.0)
    """
    if sine_elevation <= 0.0:
        return 0.0
    return float(1098.0 * sine_elevation * exp(-0.057 / sine_elevation) * (1.0 - 0.75 * cloud**3.4))
