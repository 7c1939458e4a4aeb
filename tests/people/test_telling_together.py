"""Alarms that belong together are one thread, and a storm of them a few messages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dawnline.duration import HOUR_MS

from .conftest import ADA, CRASH, LOW, SLIDE

House = Callable[..., Any]
Told = Callable[..., list[tuple[str, str, str]]]


def test_alarms_of_one_night_are_one_thread(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[SLIDE] = "medium"
    first = home.run("14:20")
    home.on |= {LOW: "high", CRASH: "high"}
    later = home.run("14:32")
    home.act("acknowledge", 2), home.act("acknowledge", 3)
    home.on.clear()
    rest = home.run("20:00")
    assert told(first + later) == [
        ("10 14:11", "Ada", "raised"),
        ("10 14:26", "Ada", "raised"),
        ("10 14:31", "Ada", "raised"),
    ]
    assert later[-1].subject == "Heron Lane: pH crash (high priority) and 2 more"
    assert [message.why for message in rest][-1] == "over"
    assert len({message.thread for message in home.messages}) == 1
    assert [message.opens for message in home.messages] == [True] + [False] * (len(home.messages) - 1)
    assert "Also:" in later[-1].text
    assert "How it came about:" in rest[-1].text


def test_alarms_of_one_minute_are_one_message(house: House) -> None:
    home = house(ADA)
    home.on |= {("no-data", name): "medium" for name in ("ph", "water", "deep")}
    (message,) = home.run("14:30")
    assert message.asks == (1, 2, 3)
    assert "and 2 more" in message.subject


def test_a_storm_of_faults_is_gathered(house: House) -> None:
    home = house(ADA)
    for number in range(8):
        home.on[("no-data", f"probe-{number}")] = "medium"
        home.run(f"14:{2 * number + 1:02d}")
    home.run("16:00")
    assert len(home.messages) <= 3
    assert len(home.messages[-1].asks) == 8


def test_a_probe_that_flaps_all_day_is_a_few_messages(house: House) -> None:
    home = house(ADA, begins="08:00")
    for hour in range(8, 20):
        for half in ("00", "30"):
            home.on[("probe-suspect", "ph")] = "medium"
            home.run(f"{hour:02d}:{int(half) + 5:02d}")
            home.on.clear()
            home.run(f"{hour:02d}:{int(half) + 29:02d}")
    assert len(home.messages) <= 16
    assert len({message.thread for message in home.messages}) == 1


def test_what_is_back_within_the_hour_is_the_same_incident(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    home.run("14:12")
    home.act("acknowledge", 1)
    home.on.clear()
    home.run("14:50")
    home.on[LOW] = "high"
    home.run("15:05")
    assert [message.why for message in home.messages] == ["raised", "over", "again"]
    assert len({message.thread for message in home.messages}) == 1


def test_more_urgent_than_known_goes_out_even_in_a_flood(house: House) -> None:
    home = house(ADA)
    home.on[SLIDE] = "medium"
    home.run("14:20")
    home.on[SLIDE] = "high"
    (message,) = home.run("14:22")
    assert (message.why, message.priority) == ("raised", "high")


def test_what_is_shelved_is_not_repeated_and_comes_back(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    home.run("14:12")
    home.act("shelve", 1, lasting=2 * HOUR_MS)
    assert home.run("16:00") == []
    assert told(home.run("16:20"))[0] == ("10 16:12", "Ada", "raised")
