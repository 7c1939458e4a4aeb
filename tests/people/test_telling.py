"""Who is told, when and why: one person, a night, several people."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from dawnline.duration import MINUTE_MS

from .conftest import ADA, BO, CRASH, LOW, SLIDE

House = Callable[..., Any]
Told = Callable[..., list[tuple[str, str, str]]]


def test_a_high_alarm_is_repeated_ever_more_rarely_until_somebody_has_it(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    assert told(home.run("18:00")) == [
        ("10 14:11", "Ada", "raised"),
        ("10 14:21", "Ada", "repeat"),
        ("10 14:41", "Ada", "repeat"),
        ("10 15:21", "Ada", "repeat"),
        ("10 16:41", "Ada", "repeat"),
    ]
    assert home.act("acknowledge", 1) == []  # nobody else was told, and Ada knows what she did
    assert home.run("12:00", day=1) == []


def test_repeats_end_by_themselves(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    found = told(home.run("14:00", day=5))
    assert [why for _, _, why in found] == ["raised"] + 10 * ["repeat"]


def test_medium_is_repeated_rarely_and_by_day_and_low_never(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[("probe-suspect", "ph")] = "medium"
    found = told(home.run("23:00", day=6))
    assert found == [
        ("10 14:01", "Ada", "raised"),
        ("11 07:00", "Ada", "morning"),  # due at two in the night
        ("12 07:00", "Ada", "repeat"),
        ("14 07:00", "Ada", "repeat"),
    ]
    home = house(ADA)
    home.on[("ph-high", "ph")] = "low"
    assert told(home.run("23:00", day=6)) == [("10 16:01", "Ada", "raised")]


def test_the_all_clear_comes_once_and_ends_it(house: House, told: Told) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    home.run("14:15")
    home.on.clear()
    found = told(home.run("20:00"))
    assert found == [("10 14:21", "Ada", "repeat"), ("10 14:41", "Ada", "repeat"), ("10 14:51", "Ada", "over")]
    assert home.telling.incidents == []


def test_acts_of_one_moment_never_give_two_messages_of_one_key(house: House) -> None:
    home = house(ADA)
    home.on[LOW] = "high"
    home.run("14:15")
    for move in ("shelve", "unshelve") * 2:
        home.act(move, 1, "bo", lasting=600_000)
    home.run("14:17")
    keys = [message.key for message in home.messages]
    assert len(keys) == len(set(keys))
    assert [message.why for message in home.messages[-2:]] == ["raised", "raised"]


def test_in_quiet_hours_what_need_not_wake_waits_and_comes_as_one_message(house: House, told: Told) -> None:
    home = house(ADA, begins="23:00")
    home.on |= {("probe-suspect", "ph"): "medium", ("wide-swing", "ph"): "low"}
    assert home.run("06:59", day=1) == []
    (message,) = home.run("07:10", day=1)
    assert told([message]) == [("11 07:00", "Ada", "morning")]
    for part in ("A probe cannot be believed", "pH swings widely", "raised"):
        assert part in message.text
    assert message.asks == (1, 2)


def test_what_came_and_went_in_the_night_is_told_in_the_morning(house: House, told: Told) -> None:
    home = house(ADA, begins="23:00")
    home.on[("probe-suspect", "ph")] = "medium"
    home.run("01:00", day=1)
    home.on.clear()
    (message,) = home.run("09:00", day=1)
    assert told([message]) == [("11 07:00", "Ada", "morning")]
    assert message.subject == "Heron Lane: over: A probe cannot be believed"
    assert home.telling.incidents == []


def test_whoever_was_woken_hears_at_once_that_it_is_over(house: House, told: Told) -> None:
    home = house(ADA, begins="02:00")
    home.on[LOW] = "high"
    home.run("02:15")
    home.act("acknowledge", 1)
    home.on.clear()
    assert told(home.run("08:00")) == [("10 02:46", "Ada", "over")]


def test_whoever_went_to_bed_with_it_hears_in_the_morning_that_it_is_over(house: House, told: Told) -> None:
    home = house(replace(ADA, morning=8 * 60), begins="21:30")
    home.on[LOW] = "high"
    home.run("21:50")
    home.act("acknowledge", 1)
    home.on.clear()
    assert told(home.run("08:30", day=1)) == [("11 08:00", "Ada", "morning")]


def test_whoever_was_woken_is_not_woken_by_who_has_it(house: House, told: Told) -> None:
    home = house(ADA, replace(BO, order=1), begins="02:00")
    home.on |= {LOW: "high", ("sudden-drop", "ph"): "high"}
    home.run("02:15")
    home.act("acknowledge", 1, "Bo")
    home.on.pop(LOW)
    assert [each for each in told(home.run("04:00")) if each[2] == "update"] == []
    home.on.clear()
    assert [each[2] for each in told(home.run("08:00")) if each[1] == "Ada" and each[2] != "repeat"] == ["over"]


def test_a_person_may_be_woken_by_medium_or_have_no_quiet_hours(house: House, told: Told) -> None:
    home = house(replace(ADA, wakes="medium"), replace(ADA, name="Cy", quiet=None), begins="02:00")
    home.on[("probe-suspect", "ph")] = "medium"
    assert told(home.run("02:05")) == [("10 02:01", "Ada", "raised"), ("10 02:01", "Cy", "raised")]


def test_the_buffer_wakes_nobody_however_urgent(house: House, told: Told) -> None:
    home = house(ADA, BO)
    home.on[("buffer-running-out", None)] = "high"
    found = told(home.run("06:00", day=1))
    assert found == [("10 14:01", "Ada", "raised")]


def test_the_next_is_asked_when_nobody_answers(house: House, told: Told) -> None:
    home = house(ADA, BO, replace(BO, name="Cy", order=3, after=30 * MINUTE_MS), begins="02:00")
    home.on[CRASH] = "high"
    found = [row for row in told(home.run("03:00")) if row[2] != "repeat"]
    assert found == [
        ("10 02:06", "Ada", "raised"),
        ("10 02:21", "Bo", "unanswered"),
        ("10 02:51", "Cy", "unanswered"),
    ]
    (asked,) = [message for message in home.messages if message.person == "Bo" and message.why == "unanswered"]
    assert asked.text.startswith("Asked first: Ada. Nobody has acknowledged in time; now it is you.")


def test_whoever_answers_spares_the_next(house: House, told: Told) -> None:
    home = house(ADA, BO)
    home.on[CRASH] = "high"
    home.run("14:10")
    home.act("acknowledge", 1)
    assert home.run("20:00") == []


def test_what_is_not_high_stays_with_the_first(house: House, told: Told) -> None:
    home = house(ADA, BO)
    home.on[SLIDE] = "medium"
    assert {person for _, person, _ in told(home.run("21:00"))} == {"Ada"}


def test_where_the_first_do_not_care_the_next_is_the_first(house: House, told: Told) -> None:
    home = house(replace(ADA, priority="high"), BO)
    home.on[SLIDE] = "medium"
    assert told(home.run("15:00")) == [("10 14:11", "Bo", "raised")]


def test_those_who_were_told_hear_who_has_it(house: House, told: Told) -> None:
    home = house(ADA, replace(BO, order=1))
    home.on[LOW] = "high"
    home.run("14:12")
    home.act("acknowledge", 1, "Bo")
    assert told(home.run("15:00")) == [("10 14:21", "Ada", "update")]
    assert "acknowledged by Bo" in home.messages[-1].text


def test_who_cannot_be_reached_is_not_waited_for(house: House, told: Told) -> None:
    home = house(ADA, BO)
    home.on[LOW] = "high"
    (message,) = home.run("14:11")
    home.ended(message)
    assert told(home.run("14:12")) == [("10 14:12", "Bo", "unreachable")]
    assert "Asked first: Ada. No message gets through there" in home.messages[-1].text


def test_that_notices_do_not_arrive_is_told_on_another_route(house: House, told: Told) -> None:
    home = house(replace(ADA, addresses=("console:", "mailto:ada@example.org")), BO)
    home.on[("ph-high", "ph")] = "low"
    (message,) = home.run("16:05")
    home.ended(replace(message, addresses=("mailto:ada@example.org",)))
    (warning,) = home.run("16:10")
    assert (warning.person, warning.addresses) == ("Ada", ("console:",))
    assert "Notices do not arrive" in warning.subject
    assert warning.priority == "medium"  # what did not arrive was not urgent


def test_with_no_other_route_of_their_own_it_goes_to_the_next(house: House) -> None:
    home = house(ADA, BO)
    home.on[("ph-high", "ph")] = "low"
    (message,) = home.run("16:05")
    home.ended(message)
    (warning,) = home.run("16:10")
    assert (warning.person, warning.why) == ("Bo", "raised")


def test_with_one_route_that_fails_nothing_is_sent_on_it_about_itself(house: House) -> None:
    home = house(ADA)
    home.on[("ph-high", "ph")] = "low"
    (message,) = home.run("16:05")
    home.ended(message)
    assert home.run("18:00") == []
    home.ended(message, "delivered")
    assert home.run("20:00") == []
