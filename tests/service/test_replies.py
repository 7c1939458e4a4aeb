"""An acknowledgement that came by MQTT is an act like any other, and its sender hears what became of it."""

from __future__ import annotations

from dawnline.event import Act
from dawnline.probes.intake import Intake
from dawnline.service.replies import MOST, Replies


def made() -> tuple[Replies, Intake, list[tuple[int, bool, str]]]:
    told: list[tuple[int, bool, str]] = []
    intake = Intake(lambda: 1_780_000_000_000)
    return Replies(intake, lambda *words: told.append(words)), intake, told


def acts(intake: Intake) -> list[Act]:
    found = []
    while isinstance(item := intake.take(0.0), Act):
        found.append(item)
    return found


def test_it_becomes_an_act_and_the_verdict_goes_back() -> None:
    replies, intake, told = made()
    replies.ask(3)
    (act,) = acts(intake)
    assert (act.kind, act.body, act.actor) == ("acknowledge", {"id": 3}, "mqtt")
    replies.answered("somebody else's", True, "noted")
    assert told == []
    replies.answered(act.id, False, "there is no open alarm 3")
    replies.answered(act.id, True, "twice")
    assert told == [(3, False, "there is no open alarm 3")]


def test_a_flood_of_them_is_refused_until_some_are_answered() -> None:
    replies, intake, told = made()
    for number in range(1, MOST + 3):
        replies.ask(number)
    waiting = acts(intake)
    assert len(waiting) == MOST
    assert [(number, accepted) for number, accepted, _ in told] == [(MOST + 1, False), (MOST + 2, False)]
    replies.answered(waiting[0].id, True, "acknowledged")
    replies.ask(99)
    assert [act.body["id"] for act in acts(intake)] == [99]
