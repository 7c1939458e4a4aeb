"""Flat line (QARTOD test 8): a value that has not moved for longer than this probe's values ever rest.

The rule is that of ioos_qc: a reading is flagged where highest less lowest over the window that ends with it is below
the tolerance. The window is a time, not a number of readings, and it is learned, since no fixed one fits: at 10 s an
ordinary electrode never repeats itself for more than minutes, while a calm stream, read each quarter of an hour with
two decimals, has rested for 11 h (Logan River Observatory, Franklin Basin, Utah, 2014). So the window is four times
the longest rest this probe has shown in this and the last 30 days, not below `floor`, not above `cap`, and `cap`
through its first day. A rest that was flagged, though the probe then moved again, counts a quarter more than it
lasted, even above `cap`: a pond that grows calm, or one that is read by whole tenths, is not accused each night, and a
probe that froze once is found again soon. A rest that went on until `fail` teaches nothing. The lengths are common
practice, no source.

What was flagged stays flagged; the first value that moves is good again. Silence is no rest: see `skip`.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

UNHEARD_OF: Final = 8.0  # times the longest rest of
KNOWN_MS: Final = 5 * DAY_MS  # or more,
FLICKERS_MS: Final = HOUR_MS  # of a probe whose values never rested for longer than this
ALIVE_MS: Final = DAY_MS  # nothing learned counts before the probe has been seen through a day and a night
BLOCK_MS: Final = 30 * DAY_MS
OF_A_REST: Final = 4.0
OF_A_LONG_REST: Final = 1.25
MOST: Final = 512  # levels remembered of one rest; one with more counts from the oldest that is remembered

_SUSPECT: Final[Verdict] = (Flag.SUSPECT, Reason.FLAT)
_FAIL: Final[Verdict] = (Flag.FAIL, Reason.FLAT)


class Flat(Stateful):
    """Flat line of one series. `tolerance` in its unit, `floor`, `cap` and `fail` [ms].

    With `floor` equal to `cap` the window is fixed. `since` is when the present rest began, `window` what is allowed,
    `flagged` whether the latest value was found flat.
    """

    KEPT = (
        *("first_at", "last", "since", "window", "flagged", "brief", "review_at", "highs", "lows"),
        *("block_at", "learned", "learned_before"),
    )

    def __init__(self, tolerance: float, *, floor: int, cap: int, fail: int) -> None:
        self.tolerance = tolerance
        self.floor, self.cap, self.fail = floor, cap, fail
        self.first_at: int | None = None
        self.last = 0.0
        self.since = 0
        self.window = cap
        self.flagged = False
        self.brief = 0.0  # a rest of one value that lasted no longer teaches nothing [ms] ...
        self.review_at = 0  # ... before this time, when blocks of days may have ended
        # Highest and lowest of the rest, each later one nearer the middle, with the time from which it counts; empty
        # for a rest of one value.
        self.highs: list[tuple[float, int]] = []
        self.lows: list[tuple[float, int]] = []
        self.block_at = 0
        self.learned = 0.0  # the window that this block of days asks for
        self.learned_before = 0.0

    def forget(self) -> None:
        """Begin a new rest with the next value; what was learned stays."""
        self.first_at = None
        self.flagged = False

    def skip(self, gap: int) -> None:
        """`gap` ms passed without a reading: nobody knows whether the value rested, so they do not count."""
        self.since += gap
        self.highs = [(value, at + gap) for value, at in self.highs]
        self.lows = [(value, at + gap) for value, at in self.lows]

    def rests_as_usual(self, at: int) -> bool:
        """Whether the value has rested until `at` [ms] no longer than this probe's values have done before."""
        return self.first_at is not None and at - self.since <= self.window / OF_A_REST

    @property
    def longest(self) -> float:
        """The longest rest of these weeks [ms], as far as it taught anything; of one beyond the cap a part."""
        return max(self.learned, self.learned_before) / OF_A_REST

    def unheard_of(self, at: int) -> bool:
        """Whether the value has rested until `at` [ms] far longer than this probe's values have in a week or more."""
        known = self.learned_before > 0.0 or at - self.block_at >= KNOWN_MS
        longest = self.longest
        return known and 0.0 < longest <= FLICKERS_MS and at - self.since >= UNHEARD_OF * longest

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on `value`, measured at `at` [ms], later than the one before."""
        if self.first_at is None:
            self.first_at = at
            self.block_at = self.block_at or at
            self._begin(at, value)
        elif value != self.last:
            brief = at - self.since <= self.brief and at < self.review_at and not self.highs
            if brief and abs(value - self.last) >= self.tolerance:  # as nearly always
                self.last, self.since = value, at
            else:
                self._move(at, value)
        rest = at - self.since
        if rest < self.window or self.tolerance <= 0:
            self.flagged = False
            return GOOD if at - self.first_at >= self.window else NOT_EVALUATED
        self.flagged = True
        return _FAIL if rest >= self.fail else _SUSPECT

    def _begin(self, at: int, value: float) -> None:
        self.last, self.since = value, at
        self.highs, self.lows = [], []

    def _move(self, at: int, value: float) -> None:
        """Another value than the last: the rest goes on, grows shorter at its beginning, or is over."""
        began, tolerance = self.since, self.tolerance
        if abs(value - self.last) >= tolerance:
            self._begin(at, value)
        else:
            highs, lows = self.highs or [(self.last, began)], self.lows or [(self.last, began)]
            self.last, self.highs, self.lows = value, highs, lows
            start = at
            while highs and highs[-1][0] <= value:
                start = highs.pop()[1]
            highs.append((value, start))
            start = at
            while lows and lows[-1][0] >= value:
                start = lows.pop()[1]
            lows.append((value, start))
            for levels in (highs, lows):
                while len(levels) > MOST or (len(levels) > 1 and highs[0][0] - lows[0][0] >= tolerance):
                    del levels[0]
                    self.since = max(self.since, levels[0][1])
        if self.since != began:
            self._learn(at, at - began)

    def _learn(self, at: int, rest: int) -> None:
        """A rest of `rest` ms is over: the probe is alive."""
        asked = rest * OF_A_LONG_REST
        if not self.flagged:
            asked = max(asked, min(rest * OF_A_REST, self.cap))
        self.flagged = False
        if at - self.block_at >= BLOCK_MS:
            self.block_at, self.learned_before, self.learned = at, self.learned, 0.0
        if rest < self.fail:
            self.learned = max(self.learned, asked)
        alive = self.first_at is not None and at - self.first_at >= ALIVE_MS
        if alive and self.floor < self.cap:
            self.window = round(max(self.learned, self.learned_before, self.floor))
        self.brief, self.review_at = min(self.learned, self.cap) / OF_A_REST, at + HOUR_MS
