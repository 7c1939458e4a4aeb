"""pH limits: low, crash, high, judged on each minute's good readings, and the wide swing."""

from __future__ import annotations

from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Priority
from dawnline.outlook.finding import Condition
from dawnline.outlook.settings import LimitSettings
from dawnline.quantity import QUANTITIES

VERY_HIGH: Final = 9.5  # pH from which ph-high is of medium priority ...
VERY_HIGH_MS: Final = 30 * MINUTE_MS  # ... once it has stood there for so long, as no odd minute does,
VERY_HIGH_READINGS: Final = 4  # and for so many readings of a slow probe

_CLEAR, _BETWEEN, _MET = Condition.CLEAR, Condition.BETWEEN, Condition.MET


def low_side(value: float, limit: float, deadband: float) -> Condition:
    """How a value stands to a lower limit. A value on the limit is safe; it clears past the deadband.

    >>> [low_side(v, 6.5, 0.1).name for v in (6.49, 6.5, 6.6, 6.61)]
    ['MET', 'BETWEEN', 'BETWEEN', 'CLEAR']
    """
    if value < limit:
        return _MET
    return _CLEAR if value > limit + deadband else _BETWEEN


def high_side(value: float, limit: float, deadband: float) -> Condition:
    """How a value stands to an upper limit."""
    if value > limit:
        return _MET
    return _CLEAR if value < limit - deadband else _BETWEEN


def shown(value: float, limit: float) -> str:
    """A pH in words, with a third digit where two would show the limit itself.

    >>> shown(6.43, 6.5), shown(6.497, 6.5)
    ('pH 6.43', 'pH 6.497')
    """
    return f"pH {value:.2f}" if round(value, 2) != limit else f"pH {value:.3f}"


def beside(value: float, quantity: str, side: str, limit: float | None) -> str:
    """A value in words, and the limit where it lies `side` ("below" or "above") of it.

    >>> beside(5.43, "dissolved_oxygen", "below", 6.0), beside(6.4, "dissolved_oxygen", "below", 6.0)
    ('5.4 mg/L, below 6', '6.4 mg/L')
    """
    text = QUANTITIES[quantity].show(value)
    beyond = limit is not None and (value < limit if side == "below" else value > limit)
    return f"{text}, {side} {limit:g}" if beyond else text


def low_priority(limits: LimitSettings, ordinary_low: float | None) -> Priority:
    """`ph-low` is high, but medium in a pond whose ordinary dawn low lies at or below the limit (learned)."""
    return "medium" if ordinary_low is not None and ordinary_low <= limits.ph_low else "high"


def high_priority(value: float, stood: int, interval: int = MINUTE_MS) -> Priority:
    """`ph-high` is low, and medium above pH 9.5, where it has `stood` for half an hour [ms] and four `interval`s."""
    return "medium" if value > VERY_HIGH and stood >= max(VERY_HIGH_MS, VERY_HIGH_READINGS * interval) else "low"


def beyond_limit(
    alarm: str,
    value: float,
    limits: LimitSettings,
    ordinary_low: float | None,
    *,
    stood: int = 0,
    interval: int = MINUTE_MS,
) -> tuple[str, Priority | None]:
    """What there is to say of a pH beside the limit of `alarm`, and its priority where that is not the catalogue's.

    `stood` is for how long it has been above 9.5, `interval` how often the probe speaks [ms].
    """
    if alarm == "ph-high":
        above = f", above {limits.ph_high:g}" if value > limits.ph_high else ""
        return shown(value, limits.ph_high) + above, high_priority(value, stood, interval)
    limit = limits.ph_crash if alarm == "ph-crash" else limits.ph_low
    text = shown(value, limit) + (f", below {limit:g}" if value < limit else "")
    if ordinary_low is not None:
        text += f"; this pond's ordinary dawn low is {ordinary_low:.2f}"
    return text, low_priority(limits, ordinary_low) if alarm == "ph-low" else None
