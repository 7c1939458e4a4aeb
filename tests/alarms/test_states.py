"""The table of states against ANSI/ISA-18.2 as described in public implementations, and its completeness."""

from __future__ import annotations

import pytest

from dawnline.alarms.states import TABLE, IllegalMove, Move, State, diagram, next_state

# Transitions of ISA-18.2 / IEC 62682 (non-latching), as public implementations of the standard describe them.
STANDARD = [
    (State.NORMAL, Move.OCCUR, State.UNACKNOWLEDGED),
    (State.UNACKNOWLEDGED, Move.ACKNOWLEDGE, State.ACKNOWLEDGED),
    (State.UNACKNOWLEDGED, Move.RETURN, State.RETURNED),
    (State.ACKNOWLEDGED, Move.RETURN, State.NORMAL),
    (State.ACKNOWLEDGED, Move.ESCALATE, State.UNACKNOWLEDGED),
    (State.RETURNED, Move.ACKNOWLEDGE, State.NORMAL),
    (State.RETURNED, Move.OCCUR, State.UNACKNOWLEDGED),
    (State.UNACKNOWLEDGED, Move.SHELVE, State.SHELVED),
    (State.ACKNOWLEDGED, Move.SHELVE, State.SHELVED),
    (State.SHELVED, Move.UNSHELVE, State.BY_CONDITION),
    (State.SUPPRESSED, Move.RELEASE, State.BY_CONDITION),
    (State.OUT_OF_SERVICE, Move.RESTORE, State.BY_CONDITION),
]


@pytest.mark.parametrize(("state", "move", "to"), STANDARD)
def test_the_standards_transitions(state: State, move: Move, to: State) -> None:
    assert next_state(state, move) is to


def test_every_state_has_a_row_and_every_other_move_is_refused() -> None:
    assert set(TABLE) == set(State) - {State.BY_CONDITION}
    for state, moves in TABLE.items():
        for move in Move:
            if move not in moves:
                with pytest.raises(IllegalMove, match=move.value):
                    next_state(state, move)


def test_every_state_can_be_reached_and_left() -> None:
    reached = {to for moves in TABLE.values() for to in moves.values()}
    assert reached >= set(TABLE) - {State.NORMAL}  # normal: also the start, and by condition
    assert all(any(to is not state for to in moves.values()) for state, moves in TABLE.items())


def test_the_diagram_draws_every_move_that_leads_elsewhere_and_no_other() -> None:
    drawn = diagram().splitlines()
    assert drawn[:2] == ["stateDiagram-v2", "    [*] --> normal"]
    arrows = [(s, m, to) for s, moves in TABLE.items() for m, to in moves.items() if to is not s]
    for state, move, to in arrows:
        assert f"    {state.name.lower()} --> {to.name.lower()}: {move.value}" in drawn
    assert sum(": " in line for line in drawn) == len(arrows)


def test_the_contributors_guide_shows_this_table() -> None:
    from pathlib import Path

    guide = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert diagram() in guide
