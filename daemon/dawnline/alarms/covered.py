"""One event, few messages: which alarms foretell or repeat what another one has already said.

An alarm that is covered does not begin while the other one stands on the same probe, told and at least as urgent, nor
in the same night after it is over; one that has begun goes on. What nobody was told of, since it is shelved or
suppressed, covers nothing. The limits themselves are never covered: that pH has passed one is always said.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from dawnline.alarms.memory import Memory
from dawnline.alarms.states import VISIBLE, State
from dawnline.duration import HOUR_MS
from dawnline.event import PRIORITIES, Priority

COVERED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "night-slide": ("sudden-drop", "ph-low", "ph-crash"),
    "sudden-drop": ("night-slide",),
}
SAME_NIGHT_MS: Final = 12 * HOUR_MS


def is_covered(
    alarm: str, probe: str | None, priority: Priority, at: int, memory: Mapping[tuple[str, str | None], Memory]
) -> bool:
    """Whether an alarm of this `priority` at `at` [ms] would say again what another of the same event has said."""
    for other in COVERED_BY.get(alarm, ()):
        standing = memory.get((other, probe))
        if standing is None or PRIORITIES.index(standing.priority) < PRIORITIES.index(priority):
            continue
        if standing.timing.active and standing.state in VISIBLE:
            return True
        if standing.state is State.RETURNED and at - standing.since < SAME_NIGHT_MS:
            return True
    return False
