"""How well the alarms serve: how many, how soon somebody had them, which ones are a nuisance. From the journal.

The measures are those of ANSI/ISA-18.2-2016 (16.4), IEC 62682 and EEMUA 191, with their guide values as public
documents quote them; the standards themselves were not read. They are meant for an operator at a console in a plant and
are far too loose for a keeper who sleeps, so our own aim stands beside them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final, NamedTuple

from dawnline.alarms.episodes import Episode, episodes
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import PRIORITIES, Priority, Transition

CHATTER: Final = 3
"""An alarm raised so often within `CHATTER_MS` chatters. Our own rule: the standards leave the figure open, and the
rules in use count in seconds, which our delays do not allow."""
CHATTER_MS: Final = 6 * HOUR_MS
STALE_MS: Final = DAY_MS
PERIOD_MS: Final = 10 * MINUTE_MS
MOST_IN_TEN: Final = 10  # in ten minutes; ANSI/ISA-18.2-2016 16.4
_STANDARD: Final = "ANSI/ISA-18.2-2016 16.4, EEMUA 191"
_OURS: Final = "our own aim, no source"


class Guide(NamedTuple):
    """One measure beside its guide value; `well` says whether it is kept."""

    measure: str
    found: str
    guide: str
    source: str
    well: bool


@dataclass(frozen=True, slots=True)
class Performance:
    """The alarms of start <= time < end (Unix ms). `raised` holds the episodes that began in it, in order.

    `standing` are those that were there for over a day within it. `chattering` counts how often a chattering alarm was
    raised at most within `CHATTER_MS`, by alarm and probe.
    """

    start: int
    end: int
    raised: Sequence[Episode]
    standing: Sequence[Episode]
    chattering: Mapping[tuple[str, str | None], int]
    most_in_ten_minutes: int

    @property
    def weeks(self) -> float:
        """How long the time is [weeks]."""
        return (self.end - self.start) / (7 * DAY_MS)

    @property
    def by_alarm(self) -> dict[str, int]:
        """How often each was raised, the most frequent first."""
        return dict(Counter(episode.alarm for episode in self.raised).most_common())

    @property
    def by_priority(self) -> dict[Priority, int]:
        """How many reached each priority at most."""
        found = Counter(episode.priority for episode in self.raised)
        return {priority: found[priority] for priority in PRIORITIES}

    @property
    def acknowledged(self) -> int:
        """How many somebody acknowledged."""
        return sum(episode.acknowledged_at is not None for episode in self.raised)

    @property
    def times_to_acknowledge(self) -> list[int]:
        """From raised to first acknowledged [ms], the shortest first."""
        return sorted(each.answered_after for each in self.raised if each.answered_after is not None)

    @property
    def median_to_acknowledge(self) -> float | None:
        """Half of those acknowledged were so within this time [ms]."""
        return median(self.times_to_acknowledge) if self.acknowledged else None

    def guides(self) -> list[Guide]:
        """Each measure that has a guide value, beside it."""
        count, days = len(self.raised), max((self.end - self.start) / DAY_MS, 1e-9)
        a_day, chattering, standing = count / days, len(self.chattering), len(self.standing)
        most, found = self.most_in_ten_minutes, f"{a_day:.2f}"
        rows = [
            Guide("alarms a day", found, "about 150, at most 300", _STANDARD, a_day <= 300),
            Guide("alarms a day", found, "less than 1", _OURS, a_day < 1),
            Guide("most in ten minutes", str(most), f"at most {MOST_IN_TEN}", _STANDARD, most <= MOST_IN_TEN),
            Guide("chattering alarms", str(chattering), "none", _STANDARD, chattering == 0),
            Guide("standing for over a day", str(standing), "fewer than 5 on any day", _STANDARD, standing < 5),
        ]
        for priority, share in zip(PRIORITIES, (80, 15, 5), strict=True) if count else ():
            part = 100 * self.by_priority[priority] / count
            well = part >= share if priority == "low" else part <= share
            rows.append(Guide(f"share of {priority} priority", f"{part:.0f} %", f"about {share} %", _STANDARD, well))
        return rows


def measure(transitions: Iterable[Transition], start: int, end: int) -> Performance:
    """Measure start <= time < end (Unix ms). `transitions` is the journal in order of time, from its beginning or at
    least from where the oldest alarm that still stands was raised; what lies after `end` is not looked at.
    """
    known = [each for each in episodes(each for each in transitions if each.at < end) if each.raised_at is not None]
    raised = [episode for episode in known if episode.told_at >= start]
    return Performance(
        start, end, raised,
        [episode for episode in known if _within(episode, start, end) > STALE_MS],
        _chattering(raised), _most([episode.told_at for episode in raised], PERIOD_MS),
    )  # fmt: skip


def _within(episode: Episode, start: int, end: int) -> int:
    """How long it had stood by the time it ended or the time looked at did; 0 where it was over before."""
    until = end if episode.ended_at is None else episode.ended_at
    return until - episode.told_at if until > start else 0


def _chattering(raised: Iterable[Episode]) -> dict[tuple[str, str | None], int]:
    times: dict[tuple[str, str | None], list[int]] = {}
    for episode in raised:
        times.setdefault((episode.alarm, episode.probe), []).append(episode.told_at)
    most = {key: _most(at, CHATTER_MS) for key, at in times.items()}
    return {key: count for key, count in most.items() if count >= CHATTER}


def _most(times: Sequence[int], window: int) -> int:
    """The largest number of these times (in order) that lie within a window [ms]."""
    most = first = 0
    assert all(early <= late for early, late in pairwise(times))
    for last, at in enumerate(times):
        while at - times[first] >= window:
            first += 1
        most = max(most, last - first + 1)
    return most
