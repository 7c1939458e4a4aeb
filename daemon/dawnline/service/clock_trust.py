"""Whether the machine's clock is known to be set: the one place that decides it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple, Protocol

from dawnline.clock_settings import Trust
from dawnline.duration import MINUTE_MS, show_duration

EARLIEST_MS: Final = 1_735_689_600_000  # 2025-01-01: a clock before this was never set
BEHIND_MS: Final = 10_000  # a smaller step back is what time synchronisation does every day
STEP_MS: Final = MINUTE_MS  # a larger one, while the watch runs, was made by somebody who knows the time


class Evidence(Protocol):
    """What a machine knows of its clock; see machine.py."""

    def marked(self) -> bool: ...  # noqa: D102
    def synchronised(self) -> bool: ...  # noqa: D102
    def kept_time(self) -> bool: ...  # noqa: D102
    def will_be_set(self) -> bool: ...  # noqa: D102


class Judgement(NamedTuple):
    """Whether the clock is known to be set, and why."""

    known: bool
    why: str


def judge(evidence: Evidence, trust: Trust, now: int, record_end: int | None, step: int = 0) -> Judgement:
    """`now` is what the clock says, `record_end` the end of the dated record, `step` by how much the clock was moved
    since the watch began; all in ms.

    A clock that nothing speaks for is believed where nothing is at work that would set it, so that a machine without
    time synchronisation is watched as ever; never where it lies before the record or before this program.
    """
    rules = _rules(evidence, trust, now, record_end, step)
    return next(Judgement(known, why) for applies, known, why in rules if applies)


def _rules(
    evidence: Evidence, trust: Trust, now: int, record_end: int | None, step: int
) -> Iterator[tuple[bool, bool, str]]:
    """Whether a rule applies, what it says, and why; the first that applies holds."""
    behind = 0 if record_end is None else record_end - now
    yield trust == "always", True, "taken as set ([clock] trust)"
    yield now < EARLIEST_MS, False, "it was never set"
    yield evidence.marked(), True, "set by time synchronisation"
    yield trust == "mark", False, "the file of [clock] mark is not there"
    yield evidence.synchronised(), True, "kept by time synchronisation"
    yield behind > BEHIND_MS, False, f"it is {show_duration(behind)} behind the end of the record"
    yield abs(step) > STEP_MS, True, "set while the watch ran"
    yield evidence.kept_time(), True, "taken from a clock with a battery at boot"
    yield evidence.will_be_set(), False, "time synchronisation has not set it yet"
    yield True, True, "taken as set: nothing here sets it, and it lies after the record"
