"""What fell between two messages of a rain gauge, and whether so much can have fallen (QARTOD test 4, gross range).

A gauge speaks in one of two ways. `amount`: what fell since its last message; a message that is lost is rain that is
lost. `accumulation`: a running total, of which the difference is what fell; a lost message costs nothing, since the
next one holds its rain. A total begins anew at 0 (a restart, midnight) or rolls over at a stated maximum.

The most that can fall is what has fallen: 31.2 mm in a minute (Unionville, 4 July 1956), 305 mm in an hour (Holt,
22 June 1947), both as the WMO's archive of extremes has them, and 1825 mm in a day (Foc-Foc, 1966; from memory).
"""

from __future__ import annotations

from itertools import pairwise
from math import log
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.quality.settings import Speech
from dawnline.quality.verdict import GOOD, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

RECORDS: Final = ((MINUTE_MS, 31.2), (HOUR_MS, 305.0), (DAY_MS, 1825.0))  # time [ms], mm
PRESUMED_MS: Final = HOUR_MS  # before the first message of a gauge that says amounts
TREMBLES_MM: Final = 0.5  # a total that sinks by no more trembles or dries up, and began no new count; common sense
_TOO_MUCH: Final[Verdict] = (Flag.FAIL, Reason.TOO_FAST)


def most_mm(length: int) -> float:
    """The greatest depth of rain [mm] in `length` ms: the records, and between them a straight line in logarithms.

    >>> [round(most_mm(minutes * 60_000), 1) for minutes in (1, 10, 60, 1440, 2880)]
    [31.2, 112.5, 305.0, 1825.0, 3650.0]
    """
    if length <= RECORDS[0][0]:
        return RECORDS[0][1]
    for (before, low), (after, high) in pairwise(RECORDS):
        if length <= after:
            return float(low * (length / before) ** (log(high / low) / log(after / before)))
    return RECORDS[-1][1] * length / RECORDS[-1][0]


class Fallen(Stateful):
    """Follows one gauge. After each `push`, `mm` fell since the time `since` [ms], in which nothing else was heard.

    `rolls_over` is where its total begins again at 0 [mm], None where it does so only at a restart.
    """

    KEPT = ("at", "total", "strange_at", "strange", "windows")

    def __init__(self, speech: Speech = "accumulation", rolls_over: float | None = None) -> None:
        self.accumulates = speech == "accumulation"
        self.rolls_over = rolls_over
        self.at: int | None = None  # of the last message that was believed
        self.total = 0.0  # the highest it has shown since it began [mm]
        self.strange_at: int | None = None  # of a total that cannot follow the last one, and that total
        self.strange = 0.0
        self.windows = [(0, 0.0) for _ in RECORDS[1:]]  # begin of the running hour and day [ms], mm in them
        self.mm = 0.0
        self.since = 0

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on a message of `value` mm at `at` [ms]."""
        before, self.mm = self.at, 0.0
        if not self.accumulates:
            return self._amount(at, value, PRESUMED_MS if before is None else at - before)
        if before is None:
            self.begin(at, value)
            return GOOD
        risen = self._risen(value, most_mm(at - before))
        if risen is None or not self._within_records(at, before, risen):
            return self._strange(at, value)
        self.mm, self.since, self.at, self.strange_at = risen, before, at, None
        trembles = risen == 0.0 and 0.0 < self.total - value <= TREMBLES_MM
        self.total = self.total if trembles else value
        return GOOD

    def begin(self, at: int, value: float) -> None:
        """Count from this message on: what came before is not known, or was no rain."""
        self.at, self.total, self.strange_at, self.mm = at, value, None, 0.0

    def forget(self) -> None:
        """What comes next is not to be compared with what came before."""
        self.at, self.strange_at, self.mm = None, None, 0.0

    def _amount(self, at: int, value: float, length: int) -> Verdict:
        if value > most_mm(length) or not self._within_records(at, at - length, value):
            return _TOO_MUCH
        self.mm, self.since, self.at = value, at - length, at
        return GOOD

    def _within_records(self, at: int, since: int, mm: float) -> bool:
        """Whether so much more can have fallen in this hour and on this day; if so it has."""
        windows = []
        for (length, _), (begin, before) in zip(RECORDS[1:], self.windows, strict=True):
            fresh = at - begin > length
            start, fallen = (since, mm) if fresh else (begin, before + mm)
            if mm > 0.0 and fallen > most_mm(at - start):
                return False
            windows.append((start, fallen))
        self.windows = windows
        return True

    def _risen(self, value: float, most: float) -> float | None:
        """By how much the total has risen [mm]; None where it cannot have risen so far."""
        rise = value - self.total
        if rise >= 0.0:
            return rise if rise <= most else None
        if value > 0.0 and -rise <= TREMBLES_MM:
            return 0.0
        if self.rolls_over is not None and 0.0 <= self.rolls_over + rise <= most:
            return self.rolls_over + rise
        return value if value <= most else 0.0  # it began anew; all it shows has fallen since, if it can have

    def _strange(self, at: int, value: float) -> Verdict:
        """One leap is not believed; a second message that follows it begins a new count."""
        before = self.strange_at
        if before is not None and 0.0 <= value - self.strange <= most_mm(at - before):
            self.mm, self.since = value - self.strange, before
            self.at, self.total, self.strange_at = at, value, None
            return GOOD
        self.strange_at, self.strange = at, value
        return _TOO_MUCH
