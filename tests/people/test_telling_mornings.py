"""The word of every morning, holidays, and those who have the pond meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.people.person import Person

from .conftest import ADA, BO, LOW, MIDNIGHT

House = Callable[..., Any]
Told = Callable[..., list[tuple[str, str, str]]]


def test_a_word_every_morning_whatever_was(house: House, told: Told) -> None:
    home = house(replace(ADA, morning=7 * 60 + 30))
    found = home.run("12:00", day=2)
    assert told(found) == [("11 07:30", "Ada", "morning"), ("12 07:30", "Ada", "morning")]
    assert found[0].subject == "Heron Lane: good morning: a quiet night"
    assert found[0].text.startswith("Last night: 6.9.")


def test_what_was_first_told_among_others_opens_its_own_thread_later(house: House) -> None:
    home = house(ADA, begins="23:00")
    home.on |= {("probe-suspect", "ph"): "medium", ("wide-swing", "ph"): "low"}
    (morning,) = home.run("07:10", day=1)
    home.on.clear()
    over = [message for message in home.run("12:00", day=2) if message.why == "over"]
    assert morning.thread.startswith("morning/")
    assert [message.opens for message in over] == [True, True]


def test_the_morning_word_names_what_still_stands(house: House) -> None:
    home = house(replace(ADA, morning=7 * 60 + 30), begins="18:00")
    home.on[("ph-high", "ph")] = "low"
    home.run("22:00")
    (message,) = home.run("07:31", day=1)
    assert "pH is high" in message.subject
    assert "Still there:" in message.text


def test_the_neighbour_has_the_pond_for_some_days(house: House, told: Told) -> None:
    def days(n: int) -> int:
        return home.at + n * 24 * HOUR_MS - 14 * HOUR_MS

    home = house(ADA)
    neighbour = Person("Nell", ("console:",), begins=days(1), ends=days(3), card=True)
    home = house(replace(ADA, telephone="+49 7651 0"), neighbour)
    home.on[LOW] = "high"
    assert {person for _, person, _ in told(home.run("23:00"))} == {"Ada"}
    found = [message for message in home.run("12:00", day=1) if message.person == "Nell"]
    # What stands when her days begin is told at once, and the pond is handed over when she is up.
    assert [message.why for message in found if message.why != "repeat"][:2] == ["raised", "handover"]
    for part in ("Air:", "Stop feeding", "Look,", "Telephone", "Ada, +49 7651 0", "Pour nothing in", "No wet hands"):
        assert part in found[0].text
    assert "dawnline" not in found[0].text
    home.on.clear()
    home.run("12:00", day=4)
    home.on[LOW] = "high"
    assert {message.person for message in home.run("13:00", day=4)} == {"Ada"}


def test_a_second_holiday_begins_with_no_good_morning_at_midnight(house: House, told: Told) -> None:
    nell = Person("Nell", ("console:",), card=True, morning=8 * 60, begins=MIDNIGHT + DAY_MS)
    home = house(ADA, nell, begins="20:00")
    home.telling.mornings.next["Nell"] = MIDNIGHT - 30 * DAY_MS  # of the first one
    assert told(home.run("09:00", day=1)) == [("11 08:00", "Nell", "handover"), ("11 08:00", "Nell", "morning")]


def test_the_card_has_no_number_of_somebody_whose_days_are_over(house: House) -> None:
    before = Person("Nell", ("console:",), telephone="111", begins=MIDNIGHT - DAY_MS, ends=MIDNIGHT)
    later = Person("Otto", ("console:",), telephone="222", begins=MIDNIGHT + DAY_MS)
    home = house(replace(ADA, telephone="333", card=True), before, later)
    home.on[LOW] = "high"
    (message,) = home.run("14:15")
    assert "333" not in message.text
    assert "111" not in message.text
    assert "Otto, 222" in message.text


@pytest.mark.parametrize("people", [(), (ADA,), (ADA, BO)])
def test_without_alarms_nobody_is_told(house: House, people: tuple[Person, ...]) -> None:
    assert house(*people).run("14:00", day=3) == []
