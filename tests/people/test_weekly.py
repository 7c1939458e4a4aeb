"""The report of the week: due once, at the pond's own hour, whatever happens to clock and power."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Effect, Message, Tick
from dawnline.people.person import Person
from dawnline.people.weekly import Weekly, WeeklySettings
from dawnline.pipeline import Pipeline

from ..pond import POND

ZONE = ZoneInfo("Europe/Berlin")
PEOPLE = [Person("Ada", ("console:", "mailto:ada@example.org")), Person("Bo", ("mailto:bo@example.org",))]
SUNDAY = WeeklySettings(to=("Ada",))


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp() * 1000)


def clock(at: int) -> str:
    return f"{datetime.fromtimestamp(at / 1000, ZONE):%a %Y-%m-%d %H:%M}"


def weekly(settings: WeeklySettings | None = SUNDAY, people: list[Person] | None = None) -> Weekly:
    return Weekly(settings, people or PEOPLE, "Heron Lane", ZONE, shipped().words)


def minutes(it: Weekly, begin: str, end: str, step: int = MINUTE_MS) -> list[Message]:
    return [message for at in range(ms(begin), ms(end), step) for message in it.minute(at)]


def pipeline(settings: WeeklySettings | None = SUNDAY) -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None)], people=PEOPLE, weekly=settings)


def of_weeks(effects: Sequence[Effect]) -> list[Message]:
    return [each for each in effects if isinstance(each, Message) and each.why == "weekly"]


def test_each_sunday_for_those_who_wish_it() -> None:
    found = minutes(weekly(), "2026-06-03T10:00", "2026-06-22T00:00")
    assert [clock(each.at) for each in found] == [
        "Sun 2026-06-07 18:00",
        "Sun 2026-06-14 18:00",
        "Sun 2026-06-21 18:00",
    ]
    first = found[0]
    assert (first.person, first.addresses, first.priority) == ("Ada", ("mailto:ada@example.org",), "low")
    assert first.thread == "week/2026-06-01/2026-06-07"
    assert first.subject == "Heron Lane: the week 2026-06-01 to 2026-06-07"
    assert len({each.key for each in found}) == len({each.incident for each in found}) == 3


def test_nobody_gets_it_unasked() -> None:
    assert (
        of_weeks(pipeline(None).step(Tick(ms("2026-06-03T10:00"))) + pipeline(None).step(Tick(ms("2026-06-09T10:00"))))
        == []
    )


def test_before_noon_the_week_ends_with_the_day_before() -> None:
    found = minutes(weekly(WeeklySettings(to=("Bo",), on="monday", at="07:00")), "2026-06-03T10:00", "2026-06-09T00:00")
    assert [(clock(each.at), each.thread) for each in found] == [("Mon 2026-06-08 07:00", "week/2026-06-01/2026-06-07")]


@pytest.mark.parametrize(
    ("at", "begin", "end", "sent"),
    [
        ("18:00", "2026-03-20T10:00", "2026-04-06T00:00", ["22 18:00", "29 18:00", "05 18:00"]),
        ("02:30", "2026-03-20T10:00", "2026-04-06T00:00", ["22 02:30", "29 03:30", "05 02:30"]),  # 02:30 is left out
        ("02:30", "2026-10-20T10:00", "2026-11-02T00:00", ["25 02:30", "01 02:30"]),  # and comes twice
        ("03:00", "2026-10-20T10:00", "2026-11-02T00:00", ["25 03:00", "01 03:00"]),
        ("00:00", "2026-10-20T10:00", "2026-11-02T00:00", ["25 00:00", "01 00:00"]),
    ],
)
def test_over_the_changes_of_the_clock(at: str, begin: str, end: str, sent: list[str]) -> None:
    found = minutes(weekly(WeeklySettings(to=("Ada",), at=at)), begin, end)
    assert [clock(each.at)[-8:].lstrip() for each in found] == sent


def test_whoever_rests_or_is_away_is_not_sent_it() -> None:
    away = Person("Ada", ("mailto:ada@example.org",), begins=ms("2026-07-01T00:00"))
    found = minutes(weekly(people=[away]), "2026-06-03T10:00", "2026-07-06T00:00", HOUR_MS // 2)
    assert [clock(each.at) for each in found] == ["Sun 2026-07-05 18:00"]


@settings(max_examples=25)
@given(st.lists(st.integers(1, 3 * DAY_MS), min_size=1, max_size=8), st.sets(st.integers(0, 8)))
def test_never_twice_and_never_left_out(steps: list[int], restarts: set[int]) -> None:
    """Whatever pauses lie between the events, and wherever the fold is saved and read back."""
    fold, at = pipeline(), ms("2026-03-21T10:00")
    fold.step(Tick(at))
    last, found = at, []
    for number, step in enumerate(steps):
        at += step
        found += of_weeks(fold.step(Tick(at)))
        if number in restarts:
            saved = json.loads(json.dumps(fold.save()))
            fold = pipeline()
            fold.restore(saved)
    wanted, due = weekly(), []
    while (last := wanted.week(last, 1).at) <= at - at % MINUTE_MS:
        due.append(last)
    assert [each.at for each in found] == due


def test_a_silence_of_weeks() -> None:
    """Long silences are stepped by days; each week comes, the last at the latest with the first event."""
    fold = pipeline()
    fold.step(Tick(ms("2026-06-03T10:00")))
    found = of_weeks(fold.step(Tick(ms("2026-07-08T10:00"))))
    assert [each.at for each in found] == [
        ms(f"2026-{day}T18:00") for day in ("06-07", "06-14", "06-21", "06-28", "07-05")
    ]


def test_what_status_shows() -> None:
    it, at = weekly(), ms("2026-06-08T10:00")
    it.minute(ms("2026-06-07T10:00"))
    it.minute(at)
    assert it.body(at) == {
        "to": ["Ada"], "next": "2026-06-14T18:00:00+02:00", "last_due": "2026-06-07T18:00:00+02:00",
    }  # fmt: skip
    assert weekly(None).body(at) is None


@pytest.mark.parametrize("wrong", [{"at": "6 pm"}, {"at": "24:00"}, {"at": "18:00:00"}, {"on": "Caturday"}, {"to": ()}])
def test_settings_that_say_nothing(wrong: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        WeeklySettings.model_validate({"to": ("Ada",), **wrong})
