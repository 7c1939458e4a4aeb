"""The life of an alarm: every state, every event, one table.

States after ANSI/ISA-18.2 / IEC 62682. Rule: whatever decides a state stands in `TABLE`; an illegal move raises
`IllegalMove` and changes nothing. `BY_CONDITION` means: what hides the alarm still (another suppression), else
unacknowledged where the condition is there, else normal.
"""

from __future__ import annotations

from enum import Enum
from typing import Final

from dawnline.errors import InputError


class State(Enum):
    """The state of one alarm of one probe or of the pond."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned, unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"
    BY_CONDITION = "by condition"  # never a state, only a target


class Move(Enum):
    """What can happen to an alarm."""

    OCCUR = "occur"  # the condition began and outlasted its on-delay
    RETURN = "return"  # the condition ended and stayed away for its off-delay
    ESCALATE = "escalate"  # the priority of a running episode rose
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"  # by a person or by time
    SUPPRESS = "suppress"
    RELEASE = "release"
    REMOVE = "remove from service"
    RESTORE = "return to service"


# Of an alarm in one of these people see and hear; behind a screen it is kept from them.
VISIBLE: Final = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)


class IllegalMove(InputError):  # noqa: N818 - a refusal, named for what was tried
    """A move that the table does not know; nothing has changed."""


_N, _U, _A, _R = State.NORMAL, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED
_S, _D, _O, _BY = State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE, State.BY_CONDITION
_M = Move

# state -> move -> next state. A move missing from a row is refused in that state.
TABLE: Final[dict[State, dict[Move, State]]] = {
    _N: {_M.OCCUR: _U, _M.SUPPRESS: _D, _M.REMOVE: _O},
    _U: {_M.RETURN: _R, _M.ESCALATE: _U, _M.ACKNOWLEDGE: _A, _M.SHELVE: _S, _M.SUPPRESS: _D, _M.REMOVE: _O},
    _A: {_M.RETURN: _N, _M.ESCALATE: _U, _M.SHELVE: _S, _M.SUPPRESS: _D, _M.REMOVE: _O},
    _R: {_M.OCCUR: _U, _M.ACKNOWLEDGE: _N, _M.SHELVE: _S, _M.SUPPRESS: _D, _M.REMOVE: _O},
    # Behind a screen the condition comes and goes unseen.
    _S: {_M.OCCUR: _S, _M.RETURN: _S, _M.ESCALATE: _S, _M.SHELVE: _S, _M.UNSHELVE: _BY, _M.SUPPRESS: _S,
         _M.RELEASE: _S, _M.REMOVE: _O},
    _D: {_M.OCCUR: _D, _M.RETURN: _D, _M.ESCALATE: _D, _M.SHELVE: _S, _M.SUPPRESS: _D, _M.RELEASE: _BY, _M.REMOVE: _O},
    _O: {_M.OCCUR: _O, _M.RETURN: _O, _M.ESCALATE: _O, _M.SUPPRESS: _O, _M.RELEASE: _O, _M.UNSHELVE: _O,
         _M.REMOVE: _O, _M.RESTORE: _BY},
}  # fmt: skip


def next_state(state: State, move: Move) -> State:
    """Where `move` leads from `state`. Raises IllegalMove where the table has no such move."""
    try:
        return TABLE[state][move]
    except KeyError:
        raise IllegalMove(f"cannot {move.value}: the alarm is {state.value}") from None


def diagram() -> str:
    """The table as a Mermaid state diagram, for the contributors' guide."""
    names = {state: state.name.lower() for state in State}
    lines = ["stateDiagram-v2", "    [*] --> normal"]
    for state, moves in TABLE.items():
        lines += [f"    {names[state]} --> {names[to]}: {move.value}" for move, to in moves.items() if to is not state]
    lines += [f"    by_condition --> {names[to]}" for to in (_U, _N, _S, _D)]
    return "\n".join(lines)
