"""All the rain of one pond, from its gauge and from the logbook, none of it counted twice.

An entry by hand speaks of the 24 hours before it, or of the time since the rain entry before it where that is shorter.
What the gauge had in those hours is taken off: only what the entry says beyond it counts. So a gauge that was silent,
stopped up or not there yet is made good by hand, and an entry beside a gauge that works changes nothing. Where a
running total brings later what an entry has counted already, that is taken off the total.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any, Final, NamedTuple

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.errors import InputError
from dawnline.event import Act, Rainfall
from dawnline.logbook import acts
from dawnline.logbook.ledger import about
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful

SPEAKS_OF_MS: Final = DAY_MS
KEPT_MS: Final = 45 * DAY_MS  # longer than the nights that the buffer line looks back on
LEAST_MM: Final = 0.005
LOWERED: Final = ("ph-low", "ph-crash", "sudden-drop", "night-slide")  # what rain may have to do with
BEFORE_MS: Final = 12 * HOUR_MS
MUCH_MM: Final = 10.0  # common sense, no source


class Fell(NamedTuple):
    """Rain that counts: mm, by the time `at` [ms]; `by_hand` where the logbook says so."""

    at: int
    mm: float
    by_hand: bool = False


def counted(gauged: Iterable[tuple[int, int, float]], by_hand: Iterable[tuple[int, float]]) -> list[Fell]:
    """What counts of `gauged` (begin, end [ms], mm) and `by_hand` (time [ms], mm), by time.

    >>> hour = 3_600_000
    >>> [fell.mm for fell in counted([(5 * hour, 6 * hour, 8.0)], [(30 * hour, 12.0)])]  # 8 are too old for the entry
    [8.0, 12.0]
    >>> [fell.mm for fell in counted([(8 * hour, 9 * hour, 8.0)], [(30 * hour, 12.0)])]
    [8.0, 4.0]
    """
    rows = sorted(gauged, key=itemgetter(1))
    found: list[Fell] = []
    beyond: list[tuple[int, float]] = []  # what entries by hand count beyond the gauge
    before: int | None = None
    for at, mm in sorted(by_hand):
        start = at - SPEAKS_OF_MS if before is None else max(before, at - SPEAKS_OF_MS)
        more = mm - sum(fallen for _, end, fallen in rows if start < end <= at)
        before = at
        if more >= LEAST_MM:
            beyond.append((at, more))
            found.append(Fell(at, more, by_hand=True))
    for start, end, mm in rows:
        left = mm - sum(more for at, more in beyond if start < at <= end)
        if left >= LEAST_MM:
            found.append(Fell(end, left))
    return sorted(found)


def fallen_mm(rain: Sequence[Fell], start: int, end: int) -> float:
    """How much of it fell from after `start` to `end` [ms]."""
    return sum(each.mm for each in rain if start < each.at <= end)


def rain_line(fell: Mapping[str, Any]) -> str:
    """What fell of late, out of the present, in a short line.

    >>> rain_line({"last_hour_mm": 0.6, "today_mm": 4.25, "last_24h_mm": 12.0})
    '4.2 mm today, 0.6 in the last hour, 12.0 in 24 h'
    """
    today, hour, day = fell["today_mm"], fell["last_hour_mm"], fell["last_24h_mm"]
    return f"{today:.1f} mm today, {hour:.1f} in the last hour, {day:.1f} in 24 h"


def by_hand(done: Iterable[Act]) -> list[tuple[int, float]]:
    """Time [ms] and mm of the rain in the logbook, of acts as they stand; those of another version are passed over."""
    found = []
    for act in done:
        if act.kind == "rain":
            try:
                entry = acts.read(act.kind, act.body)
            except InputError:
                continue
            assert isinstance(entry, acts.Rain)
            found.append((act.at, entry.mm))
    return found


class RainBook(Stateful):
    """The rain of the last weeks, as the fold keeps it. `new` says that something came since it was last asked."""

    KEPT = ("gauged", "by_hand")

    def __init__(self) -> None:
        self.gauged: list[tuple[int, int, float]] = []  # begin, end [ms], mm; by the hour
        self.by_hand: list[tuple[str, int, float]] = []  # the act, the time it is about [ms], mm
        self.new = False

    def fell(self, rain: Iterable[Rainfall]) -> None:
        """What the gauge has said."""
        for _, start, end, mm in rain:
            last = self.gauged[-1] if self.gauged else (0, 0, 0.0)
            if last[1] // HOUR_MS == end // HOUR_MS and last[1] <= end:
                self.gauged[-1] = (last[0], end, round(last[2] + mm, 4))
            else:
                self.gauged.append((start, end, mm))
                if end < last[1]:  # heard late
                    self.gauged.sort(key=itemgetter(1))
            self.new = True
        newest = self.gauged[-1][1] if self.gauged else 0
        self.gauged = [row for row in self.gauged if row[1] > newest - KEPT_MS]

    def enter(self, act: Act, entry: acts.Entry) -> None:
        """What the logbook says of rain, at the time it is about."""
        match entry:
            case acts.Correct():
                self._forget(entry.entry)
                self.enter(Act(entry.entry, entry.at, entry.kind, entry.body), entry.corrected)
            case acts.Withdraw():
                self._forget(entry.entry)
            case acts.Rain():
                at = about(entry, act.at)
                kept = [row for row in self.by_hand if row[1] > at - KEPT_MS]
                self.by_hand, self.new = [*kept, (act.id, at, entry.mm)], True

    def beside(self, entry: acts.Entry, at: int) -> str:
        """What the gauge says of the hours that an entry of rain speaks of, and which of the two counts."""
        if not isinstance(entry, acts.Rain):
            return ""
        earlier = max((when for _, when, _ in self.by_hand if when < at), default=0)
        start = max(at - SPEAKS_OF_MS, earlier)
        mm = sum(fallen for _, end, fallen in self.gauged if start < end <= at)
        since = "in the 24 h before" if start > earlier else "since the rain entry before"
        hours = f"The gauge had {mm:.1f} mm {since}"
        more = entry.mm - mm
        if more < LEAST_MM:
            return f"{hours}: that counts, and this entry stands beside it."
        return f"{hours}: the {more:.1f} mm beyond count on top." if mm else f"{hours}: this entry counts."

    def _forget(self, act_id: str) -> None:
        kept = [row for row in self.by_hand if row[0] != act_id]
        self.new = self.new or len(kept) < len(self.by_hand)
        self.by_hand = kept

    def counted(self, since: int = 0, more: Iterable[Rainfall] = ()) -> list[Fell]:
        """What counts, by time, from `since` [ms] on; with `more` that the gauge is about to say."""
        late = since - 2 * SPEAKS_OF_MS
        gauged = [*self.gauged, *((start, end, mm) for _, start, end, mm in more)]
        found = counted([row for row in gauged if row[1] > late], [(at, mm) for _, at, mm in self.by_hand if at > late])
        return [each for each in found if each.at > since]

    def explained(self, finding: Finding) -> Finding:
        """A pH that is low or falls, with the rain before it, where there was much."""
        if finding.alarm not in LOWERED or finding.condition is not Condition.MET:
            return finding
        mm = sum(each.mm for each in self.counted(finding.at - BEFORE_MS))
        if mm < MUCH_MM:
            return finding
        words = f"{mm:.0f} mm of rain in the last {BEFORE_MS // HOUR_MS} h"
        return finding._replace(evidence=f"{finding.evidence}; {words}")
