"""One event, few messages: which alarms foretell or repeat what another one has already said.

An alarm that is covered does not begin while the other one stands on the same probe, told and at least as urgent; one
that has begun goes on. What nobody was told of, since it is shelved or suppressed, covers nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from dawnline.alarms.memory import Memory
from dawnline.alarms.states import State
from dawnline.event import PRIORITIES, Priority

COVERED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "night-slide": ("sudden-drop", "ph-low", "ph-crash"),
    "sudden-drop": ("night-slide",),
}
_TOLD: Final = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)


def is_covered(
    alarm: str, probe: str | None, priority: Priority, memory: Mapping[tuple[str, str | None], Memory]
) -> bool:
    """Whether an alarm of this `priority` would say again what another of the same event has said."""
    for other in COVERED_BY.get(alarm, ()):
        standing = memory.get((other, probe))
        if standing is None or standing.state not in _TOLD or not standing.timing.active:
            continue
        if PRIORITIES.index(standing.priority) >= PRIORITIES.index(priority):
            return True
    return False
