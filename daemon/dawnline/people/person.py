"""A person: from which priority on, at which hours, in which order, and for which days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from dawnline.duration import MINUTE_MS, next_local_ms
from dawnline.event import PRIORITIES, Priority

QUIET: Final = (22 * 60, 7 * 60)  # minutes after midnight; common practice, no source
AFTER_MS: Final = 15 * MINUTE_MS
REPEAT_MS: Final = 10 * MINUTE_MS


@dataclass(frozen=True, slots=True)
class Person:
    """One person. Times of day are minutes after midnight in the pond's zone, `after`, `repeat`, `begins`, `ends` ms.

    `priority` is the lowest they hear of, `wakes` the lowest that reaches them in their `quiet` hours. Those of the
    lowest `order` are told first; the next when nobody has acknowledged a high alarm for `after`. `begins` and `ends`
    bound the days for which they have the pond; `card` gives them the plain card in place of the whole text.
    """

    name: str
    addresses: tuple[str, ...]
    priority: Priority = "low"
    quiet: tuple[int, int] | None = QUIET
    wakes: Priority = "high"
    order: int = 1
    after: int = AFTER_MS
    repeat: int = REPEAT_MS
    begins: int | None = None
    ends: int | None = None
    card: bool = False
    telephone: str = ""
    morning: int | None = None

    def on_duty(self, at: int) -> bool:
        """Whether anything concerns them at `at` [ms]."""
        return (self.begins is None or at >= self.begins) and (self.ends is None or at < self.ends)

    def hears(self, rank: int) -> bool:
        """Whether they want to hear of this priority (see `rank`)."""
        return rank >= RANK[self.priority]

    def rests(self, at: int, rank: int, zone: tzinfo) -> bool:
        """Whether something of this rank has to wait at `at` [ms]."""
        if self.quiet is None or rank >= RANK[self.wakes]:
            return False
        begin, end = self.quiet
        local = datetime.fromtimestamp(at / 1000, zone)
        minute = local.hour * 60 + local.minute
        return begin <= minute < end if begin < end else minute >= begin or minute < end

    def woken(self, told_at: int, at: int, zone: tzinfo) -> bool:
        """Whether what they were told at `told_at` [ms] came in the quiet hours that still last at `at`."""
        if self.quiet is None or not self.rests(told_at, 0, zone):
            return False
        return told_at <= at < next_local_ms(self.quiet[1], told_at, zone)

    def next_morning(self, at: int, zone: tzinfo) -> int:
        """When they hear what has waited [ms], after `at`: at their morning message, else as quiet hours end."""
        return next_local_ms(self.morning if self.morning is not None else self.quiet[1] if self.quiet else 0, at, zone)


RANK: Final[dict[str, int]] = {priority: number for number, priority in enumerate(PRIORITIES)}
"""0 for low, 2 for high."""
