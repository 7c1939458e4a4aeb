"""Who is told, when and why: one person, several, a night, a flood, a holiday."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.people.person import Person

ADA = Person("Ada", ("console:",))
BO = Person("Bo", ("mailto:bo@example.org",), order=2)
MIDNIGHT = 1_781_042_400_000  # Wed 10 June 2026, 00:00 in Berlin
LOW, CRASH, SLIDE = ("ph-low", "ph"), ("ph-crash", "ph"), ("night-slide", "ph")

House = Callable[..., Any]
Told = Callable[..., list[tuple[str, str, str]]]


# ---------------------------------------------------------------- one person, one address


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


# ---------------------------------------------------------------- quiet hours


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


# ---------------------------------------------------------------- several people


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


# ---------------------------------------------------------------- incidents


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


# ---------------------------------------------------------------- mornings and holidays


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
