"""Climatology (QARTOD test 5): what this pond has shown in this month of earlier years, or what the keeper expects.

Each day leaves its lowest and highest good value with its month; the latest days of a month are kept, of all years
together, so that two memories merge by being put side by side. A month is judged by its days of earlier years: between
the tenth part from below of the lows and the tenth part from above of the highs, widened by a margin. A tenth of the
days may have been wild without moving that. Until `ENOUGH` days are known the check says `not evaluated`; the keeper
may give a span for a month instead, which stands from the first reading. Days and months are those of UTC: the edge
of a month means nothing to a pond.

A crash looks just like this: a value outside all that was ever seen. So the judge withholds no reading for what was
learned (it stays good, and carries the reason); only a span that the keeper wrote makes a reading suspect.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Final

from dawnline.duration import DAY_MS
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

ENOUGH: Final = 20  # days of earlier years; common practice, no source
KEPT_DAYS: Final = 93  # three years of a month
WILD: Final = 0.1  # part of the days that may lie outside

_SUSPECT: Final[Verdict] = (Flag.SUSPECT, Reason.OUT_OF_SEASON)
_NONE: Final = (float("inf"), float("-inf"))


class Climatology(Stateful):
    """Climatology of one series, its values and `margin` in its unit; `spans` by month, 1 to 12.

    `since` is when the values left the season's span, None while they are inside; `learned` whether that span was
    learned and not given.
    """

    KEPT = ("months", "day_end", "day_low", "day_high", "year", "month", "span", "learned", "since")

    def __init__(self, margin: float, spans: Mapping[int, tuple[float, float]] | None = None) -> None:
        self.margin = margin
        self.given = dict(spans or {})
        self.months: dict[str, list[tuple[int, float, float]]] = {}  # by month: year, lowest, highest of a day
        self.day_end = 0
        self.day_low, self.day_high = _NONE
        self.year, self.month = 0, 0
        self.span: tuple[float, float] | None = None
        self.learned = False
        self.since: int | None = None

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on `value`, measured at `at` [ms], which every other check lets pass."""
        if at >= self.day_end:
            self._turn(at)
        if not self.day_low <= value <= self.day_high:
            self.day_low, self.day_high = min(self.day_low, value), max(self.day_high, value)
        span = self.span
        if span is None:
            return NOT_EVALUATED
        if span[0] <= value <= span[1]:
            self.since = None
            return GOOD
        self.since = self.since or at
        return _SUSPECT

    def _turn(self, at: int) -> None:
        """A new day: the last one joins its month."""
        if self.day_low <= self.day_high:
            days = self.months.setdefault(str(self.month), [])
            days.append((self.year, self.day_low, self.day_high))
            del days[:-KEPT_DAYS]
        today = datetime.fromtimestamp(at / 1000, UTC)
        self.year, self.month = today.year, today.month
        self.day_end = at - at % DAY_MS + DAY_MS
        self.day_low, self.day_high = _NONE
        known = self._known()
        self.learned = self.month not in self.given and known is not None
        self.span = self.given.get(self.month, known)

    def _known(self) -> tuple[float, float] | None:
        """The span that this month has shown in earlier years, with its margin."""
        days = [day for day in self.months.get(str(self.month), ()) if day[0] < self.year]
        if len(days) < ENOUGH:
            return None
        wild = int(WILD * len(days))
        lows, highs = sorted(day[1] for day in days), sorted(day[2] for day in days)
        return lows[wild] - self.margin, highs[-1 - wild] + self.margin
