"""The trend of slope and offset over the calibrations, and when the electrode will be worn out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from math import sqrt
from typing import Final, NamedTuple

from dawnline.duration import DAY_MS, local_date
from dawnline.electrode.acceptance import OFFSET_MV, SLOPE
from dawnline.electrode.calibration import MV, STANDARD_C, Calibration
from dawnline.electrode.nernst import slope_mv

# Common practice, no source, all of these.
LEAST: Final = 4  # calibrations of two buffers or more
LEAST_DAYS: Final = 60.0
RENEWED: Final = 4.0  # percent: a slope that rises so much belongs to a new electrode, or one made as new
SURE: Final = 2.0  # standard errors
FARTHEST_DAYS: Final = 5 * 365.0
MONTH_DAYS: Final = 30.4375


class Trend(NamedTuple):
    """Change a month and its standard error, the level at the end and how far values scatter about the line."""

    a_month: float
    error: float
    level: float
    scatter: float

    @property
    def clear(self) -> bool:
        """Whether it is more than chance."""
        return abs(self.a_month) > SURE * self.error


class Wear(NamedTuple):
    """When the electrode leaves the acceptance range; None while that cannot be said, `text` says so in words."""

    earliest: int | None
    latest: int | None
    text: str


def trend(days: Sequence[float], values: Sequence[float]) -> Trend | None:
    """Least squares through values at `days`; None for fewer than three, or less than a month of them."""
    n = len(days)
    if n < 3 or max(days) - min(days) < MONTH_DAYS - 0.5:
        return None
    mean_x, mean_y = sum(days) / n, sum(values) / n
    squares = sum((x - mean_x) ** 2 for x in days)
    rate = sum((x - mean_x) * (y - mean_y) for x, y in zip(days, values, strict=True)) / squares
    rest = sum((y - mean_y - rate * (x - mean_x)) ** 2 for x, y in zip(days, values, strict=True))
    scatter = sqrt(rest / (n - 2))
    level = mean_y + rate * (max(days) - mean_x)
    return Trend(rate * MONTH_DAYS, scatter / sqrt(squares) * MONTH_DAYS, level, scatter)


def of_this_electrode(kept: Sequence[Calibration]) -> list[Calibration]:
    """The calibrations since the electrode was new, as far as a jump of the slope shows it, and since its transmitter
    was last calibrated: what is found afterwards is what that left.
    """
    found: list[Calibration] = []
    for each in kept:
        if not each.points:
            found.clear()
            continue
        if found and len(each.points) > 1 and each.slope - found[-1].slope > RENEWED:
            found.clear()
        found.append(each)
    return found


def slope_trend(kept: Sequence[Calibration]) -> Trend | None:
    """Trend of the slope [% a month]."""
    rows = [each for each in of_this_electrode(kept) if len(each.points) > 1]
    return trend([each.at / DAY_MS for each in rows], [each.slope for each in rows])


def offset_trend(kept: Sequence[Calibration]) -> Trend | None:
    """Trend of the offset [mV or pH a month]."""
    rows = of_this_electrode(kept)
    return trend([each.at / DAY_MS for each in rows], [each.offset for each in rows])


def wear(kept: Sequence[Calibration], zone: tzinfo) -> Wear:
    """When the slope will pass 85 %, or the offset 30 mV, if it goes on as it did."""
    whole = [each for each in of_this_electrode(kept) if len(each.points) > 1]
    if len(whole) < LEAST or whole[-1].at - whole[0].at < LEAST_DAYS * DAY_MS:
        return Wear(
            None, None, f"cannot say yet: it takes {LEAST} calibrations in two buffers over {LEAST_DAYS:g} days"
        )
    newest = whole[-1]
    limit = OFFSET_MV if newest.quantity == MV else OFFSET_MV / slope_mv(STANDARD_C)
    slope, offset = slope_trend(kept), offset_trend(kept)
    ways = [_reach(slope, SLOPE[0], -1.0), _reach(offset, limit, 1.0), _reach(offset, -limit, -1.0)]
    days = min((way for way in ways if way is not None), default=None)
    if days is None:
        return Wear(None, None, "cannot say yet: slope and offset hold")
    earliest, latest = (newest.at + round(day * DAY_MS) for day in days)
    if days[1] > FARTHEST_DAYS:
        return Wear(earliest, None, f"worn out not before {_date(earliest, zone)}")
    return Wear(earliest, latest, f"worn out between {_date(earliest, zone)} and {_date(latest, zone)}")


def _reach(found: Trend | None, limit: float, sign: float) -> tuple[float, float] | None:
    """Days, earliest and latest, until a trend of this sign has reached `limit`; None where the trend is not clear."""
    if found is None or not found.clear or found.a_month * sign <= 0:
        return None
    room = (limit - found.level) * sign
    fast, slow = (abs(found.a_month) + way * SURE * found.error for way in (1, -1))
    days = [max(0.0, room - found.scatter) / fast, max(0.0, room + found.scatter) / slow]
    return days[0] * MONTH_DAYS, min(days[1] * MONTH_DAYS, 2 * FARTHEST_DAYS)


def _date(at: int, zone: tzinfo) -> str:
    return local_date(at, zone).isoformat()
