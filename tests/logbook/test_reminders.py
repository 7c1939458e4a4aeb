from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pydantic import ValidationError

from dawnline.catalogue_file import shipped, with_texts
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, iso, show_duration
from dawnline.event import Act, Effect, Message, Tick
from dawnline.logbook.acts import read
from dawnline.logbook.reminders import Reminders, ReminderSettings
from dawnline.outlook.settings import PondSettings
from dawnline.people.person import Person
from dawnline.pipeline import Pipeline

BERLIN = ZoneInfo("Europe/Berlin")
BEGIN = 1_780_272_000_000  # 2026-06-01T02:00+02:00
POND = PondSettings(name="Heron Lane", latitude=48, longitude=8, timezone="Europe/Berlin")
ADA = Person("Ada", ("mailto:ada@example.org",))


def made(**settings: Any) -> Reminders:
    reminders = Reminders(ReminderSettings(**settings), BERLIN, ["ph"], shipped().words)
    reminders.begin(BEGIN)
    return reminders


def take(reminders: Reminders, name: str, days: float, kind: str, **body: Any) -> None:
    reminders.take(Act(name, BEGIN + round(days * DAY_MS), kind, body), read(kind, body))


def due(reminders: Reminders, days: float, buffer: dict[str, Any] | None = None) -> list[str]:
    return [each.name for each in reminders.due(buffer or {}, BEGIN + round(days * DAY_MS))]


def test_what_was_never_done_is_due_from_the_beginning_of_the_watch() -> None:
    assert due(made(), 6.9) == []
    assert due(made(), 7) == ["kh-test"]
    assert due(made(), 14) == ["kh-test", "probe-cleaning ph"]
    assert due(made(), 30) == ["kh-test", "probe-cleaning ph", "full-test"]


def test_a_full_set_is_as_old_as_its_oldest_test() -> None:
    reminders = made()
    take(reminders, "a", 20, "hand-test", kh_dkh=3, tan_mg_l=0.1)
    assert "full-test" in due(reminders, 30)
    take(reminders, "b", 25, "hand-test", nitrite_mg_l=0.0)
    assert "full-test" not in due(reminders, 49)
    assert "full-test" in due(reminders, 50)


def test_shell_is_spoken_of_only_where_there_is_some() -> None:
    reminders = made()
    assert "shell-swap" not in due(reminders, 400)
    take(reminders, "a", 10, "media", what="shell", kilograms=5)
    assert "shell-swap" not in due(reminders, 39)
    assert "shell-swap" in due(reminders, 40)
    take(reminders, "b", 41, "media", what="shell", state="removed")
    assert "shell-swap" not in due(reminders, 400)


def test_what_is_corrected_or_withdrawn_counts_as_it_stands() -> None:
    reminders = made()
    take(reminders, "a", 1, "hand-test", kh_dkh=3)
    take(reminders, "b", 6, "hand-test", kh_dkh=3)
    assert "kh-test" not in due(reminders, 12)
    take(reminders, "c", 6.5, "withdraw", entry="b", at=BEGIN + 6 * DAY_MS)
    assert "kh-test" in due(reminders, 12)
    body = {"entry": "b", "kind": "hand-test", "at": BEGIN + 6 * DAY_MS, "body": {"kh_dkh": 2}}
    reminders.take(Act("d", BEGIN + 7 * DAY_MS, "correct", body), read("correct", body))
    assert "kh-test" not in due(reminders, 12)


def test_what_is_entered_late_counts_from_when_it_was_done() -> None:
    reminders = made()
    take(reminders, "a", 6, "hand-test", kh_dkh=3, when=iso(BEGIN + 2 * DAY_MS))
    assert due(reminders, 9) == ["kh-test"]


@pytest.mark.parametrize(
    ("buffer", "days", "says"),
    [
        ({}, 7, ""),
        ({"trend": "steady", "earliest": "2026-06-05"}, 7, ""),
        ({"trend": "falling", "earliest": None}, 3.5, "since the buffer line falls"),
        ({"trend": "falling", "earliest": "2026-06-10"}, 3, "from 2026-06-10 on"),
        ({"trend": "falling", "earliest": "2026-06-06"}, 5 / 3, "from 2026-06-06 on"),
        ({"trend": "falling", "earliest": "2026-06-02"}, 1, "from 2026-06-02 on"),
        ({"trend": "falling", "earliest": "2026-05-20"}, 1, "from 2026-05-20 on"),
        ({"trend": "falling", "earliest": "2026-09-01"}, 7, ""),
    ],
)
def test_the_buffer_line_can_ask_for_a_test_sooner_never_later(buffer: dict[str, Any], days: float, says: str) -> None:
    reminder = next(each for each in made().all(buffer, BEGIN + HOUR_MS) if each.name == "kh-test")
    assert reminder.every == days * DAY_MS
    assert f"(every {show_duration(days * DAY_MS)}" in reminder.text
    assert says in reminder.text


def test_what_is_off_is_never_due() -> None:
    assert due(made(kh_test="off", full_test="off", probe_cleaning="off"), 400) == []
    assert due(made(kh_test="2d"), 2) == ["kh-test"]


@pytest.mark.parametrize("wrong", [{"kh_test": 7}, {"kh_test": "weekly"}, {"tell_at": "25:00"}, {"tell_at": "ten"},
                                   {"tell_at": 10}, {"nag": "1d"}])  # fmt: skip
def test_wrong_settings_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        ReminderSettings(**wrong)


# ------------------------------------------------------------ told


OFTEN = ReminderSettings(kh_test="1d", full_test="3d", probe_cleaning="2d")


def pipe(*people: Person) -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None)], people=people or (ADA,), reminders=OFTEN)


def run(pipeline: Pipeline, first: int, last: int, acts: dict[int, list[Act]] | None = None) -> list[Message]:
    """By the hour over these days."""
    effects: list[Effect] = []
    for hour in range(first * 24, last * 24):
        for act in (acts or {}).get(hour, []):
            effects += pipeline.step(act)
        effects += pipeline.step(Tick(BEGIN + hour * HOUR_MS + MINUTE_MS))
    return [each for each in effects if isinstance(each, Message) and each.why == "reminder"]


def test_a_thing_is_told_once_by_day_in_one_message() -> None:
    told = run(pipe(), 0, 4)
    assert [iso(each.at, BERLIN)[:16] for each in told] == ["2026-06-02T10:00", "2026-06-03T10:00", "2026-06-04T10:00"]
    assert "to do: test KH" in told[0].subject
    assert "it is no alarm" in told[0].text
    assert told[2].text.count("- ") == 3  # with what is still due
    assert {(each.priority, each.asks) for each in told} == {("low", ())}


def test_it_is_told_in_the_words_of_the_keepers_own_file() -> None:
    catalogue = with_texts(Path(__file__).parents[2] / "config" / "texts.de.toml")
    told = run(Pipeline(catalogue, POND, [("ph", "ph", None, None)], people=[ADA], reminders=OFTEN), 0, 2)
    assert told[0].subject == "Heron Lane: zu tun: KH messen"
    assert "KH messen: noch nie eingetragen, fällig 2026-06-02 (alle 1 d)" in told[0].text


def a_test_at(hour: int) -> dict[int, list[Act]]:
    return {hour: [Act("a", BEGIN + hour * HOUR_MS, "hand-test", {"kh_dkh": 3})]}


def test_done_and_due_again_it_is_told_again() -> None:
    told = run(pipe(), 0, 3, a_test_at(36))
    subjects = [each.subject.rsplit("to do: ")[1] for each in told]
    assert subjects == ["test KH", "clean the probe ph"]
    assert run(pipe(), 0, 4, a_test_at(36))[-1].subject.endswith(
        "clean the probe ph; test KH; test KH, ammonia and nitrite"
    )


def test_whom_it_concerns() -> None:
    people = (
        ADA,
        Person("Bea", ("a:b",), priority="medium"),
        Person("Cai", ("a:c",), order=2),
        Person("Dan", ("a:d",), card=True),
        Person("Eve", ("a:e",), quiet=(8 * 60, 13 * 60)),
    )
    told = run(pipe(*people), 0, 2)
    assert [(each.person, iso(each.at, BERLIN)[11:16]) for each in told] == [("Ada", "10:00"), ("Eve", "13:00")]


def test_in_pieces_it_is_told_as_in_one_go() -> None:
    whole = run(pipe(), 0, 3, a_test_at(36))
    first, second = pipe(), pipe()
    told = run(first, 0, 2, a_test_at(36))
    second.restore(json.loads(json.dumps(first.save())))
    assert [*told, *run(second, 2, 3, a_test_at(36))] == whole
