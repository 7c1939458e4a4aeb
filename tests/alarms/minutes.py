"""A desk that is shown how one alarm stands, minute by minute."""

from __future__ import annotations

from collections.abc import Iterable

from dawnline.alarms.desk import Desk
from dawnline.duration import MINUTE_MS
from dawnline.event import Effect, Moved, Priority, Transition
from dawnline.outlook.finding import Condition, Finding

T0 = 1_780_000_020_000 - 1_780_000_020_000 % MINUTE_MS
KEY = ("ph-low", "ph")
MET, CLEAR, BETWEEN, UNKNOWN = Condition.MET, Condition.CLEAR, Condition.BETWEEN, Condition.UNKNOWN


def see(
    desk: Desk,
    condition: Condition,
    minutes: Iterable[int],
    alarm: str = "ph-low",
    priority: Priority | None = None,
) -> list[Effect]:
    """The condition at each of these minutes, each borne out by a new observation."""
    effects: list[Effect] = []
    for minute in minutes:
        at = T0 + minute * MINUTE_MS
        effects += desk.tick(at)
        effects += desk.see(Finding(alarm, "ph", at, condition, 6.4, "evidence", priority, None, at))
    return effects


def changes(effects: list[Effect]) -> list[tuple[str, int]]:
    return [(e.change, (e.at - T0) // MINUTE_MS) for e in effects if isinstance(e, Transition)]


def raised(desk: Desk) -> int:
    """An alarm raised at minute 10; its id."""
    found = [e for e in see(desk, MET, range(11)) if isinstance(e, Transition)]
    return found[0].id


def moves(effects: list[Effect]) -> list[tuple[str, str, str, str, str]]:
    return [(e.move, e.before, e.after, e.actor, e.reason) for e in effects if isinstance(e, Moved)]
