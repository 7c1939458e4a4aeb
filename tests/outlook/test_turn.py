from __future__ import annotations

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.turn import Turn

T0 = 1_780_000_000_000
GRAIN, HISS = 0.01, 0.01


def turn(values: list[float], interval: int = MINUTE_MS, grain: float = GRAIN, hiss: float = HISS) -> Turn:
    made = Turn()
    for i, value in enumerate(values):
        made.push(T0 + i * interval, value, interval, grain=grain, hiss=hiss)
    return made


def bounced(made: Turn) -> bool:
    return made.bounced(made.latest[-1][0])


def test_what_goes_one_way_falls() -> None:
    steady = turn([7.5 - 0.02 * i for i in range(60)])
    assert steady.falling
    assert not bounced(steady)


@pytest.mark.parametrize(("up", "falls", "bounces"), [(0.09, True, False), (0.2, False, False), (0.4, False, True)])
def test_what_has_come_up_falls_no_more_and_if_far_has_bounced(up: float, falls: bool, bounces: bool) -> None:
    came = turn([7.0, 6.6, 6.3, 6.3 + up, 6.3 + up])
    assert came.falling is falls
    assert bounced(came) is bounces


def test_who_comes_up_is_not_at_its_lowest() -> None:
    fell = [7.9, 7.7, 7.5]
    assert not turn([*fell, 7.55]).lowest
    assert turn([*fell, 7.53]).lowest  # trembles
    assert turn([*fell, 7.55, 7.5]).lowest
    assert turn([*fell, 7.55], hiss=0.03).lowest
    assert turn([*fell, 7.6], grain=0.1).lowest  # a last digit that turns over


def test_a_rise_between_two_falls_counts_too() -> None:
    assert not turn([7.0, 6.6, 6.9, 6.5, 6.3]).falling


def test_a_fall_goes_on_after_a_quarter_of_an_hour_or_three_readings() -> None:
    begin = [6.0, 6.4]
    assert not turn([*begin, *(6.3 - 0.01 * i for i in range(13))]).falling
    assert turn([*begin, *(6.3 - 0.01 * i for i in range(15))]).falling
    assert turn([*begin, 6.3, 6.2, 6.1], 15 * MINUTE_MS).falling


@pytest.mark.parametrize(("minutes", "held"), [(1, HOUR_MS), (5, HOUR_MS), (15, 3 * HOUR_MS)])
def test_that_it_came_up_is_held_against_it_for_an_hour_or_twelve_readings(minutes: int, held: int) -> None:
    came, rose = turn([6.0, 6.4], minutes * MINUTE_MS), turn([7.0, 6.4, 6.55], minutes * MINUTE_MS)
    at, then = (each.latest[-1][0] + held for each in (came, rose))
    assert came.bounced(at)
    assert not came.bounced(at + 1)
    assert rose.rose(then)
    assert not rose.rose(then + 1)
    assert not rose.bounced(then)
    assert not turn([7.0, 6.4, 6.48], minutes * MINUTE_MS).rose(T0 + held)


def test_one_that_comes_back_to_what_is_usual_is_held_for_an_hour_only() -> None:
    came = Turn()
    for i, value in enumerate([7.1, 7.1, 7.55]):
        came.push(T0 + i * 15 * MINUTE_MS, value, 15 * MINUTE_MS, grain=GRAIN, hiss=HISS, usual=7.5)
    at = came.latest[-1][0] + HOUR_MS
    assert came.bounced(at)
    assert not came.bounced(at + 1)


@pytest.mark.parametrize(("known", "bounces"), [(0.0, True), (0.3, True), (0.5, False)])
def test_a_rise_that_these_weeks_have_seen_is_no_bounce(known: float, bounces: bool) -> None:
    came = Turn()
    for i, value in enumerate([7.0, 7.2, 7.4]):
        came.push(T0 + i * 15 * MINUTE_MS, value, 15 * MINUTE_MS, grain=GRAIN, hiss=HISS, known=known)
    assert bounced(came) is bounces


@pytest.mark.parametrize(
    ("values", "again"),
    [
        ([7.9, 6.5, 6.4, 6.26, 6.4, 6.34], True),
        ([7.9, 6.4, 6.2, 5.8, 5.95, 5.3], True),  # farther down than before, too
        ([7.9, 6.5, 6.4, 6.26, 6.4, 6.37], False),  # it trembles
        ([7.9, 6.3, 6.35, 6.45, 6.5, 6.5, 6.52], False),  # acid that leaves
        ([7.9, 6.5, 6.4, 6.26, 6.32, 6.26], False),
    ],
)
def test_who_came_up_and_went_down_again_goes_up_and_down(values: list[float], again: bool) -> None:
    came = turn(values, 5 * MINUTE_MS)
    assert (came.again_at > T0) is again


def test_what_acid_took_may_come_back_by_the_hour() -> None:
    assert not bounced(turn([7.9, 3.5, 3.6, 3.8, 3.9, 4.0, 4.1, 4.2], 15 * MINUTE_MS, 0.1))


def test_a_coarse_or_a_restless_probe_is_asked_for_more() -> None:
    came = [7.0, 6.6, 6.3, 6.43, 6.43]
    assert not turn(came).falling
    assert turn(came, grain=0.1).falling
    assert turn(came, hiss=0.04).falling


def test_it_is_kept_and_forgotten() -> None:
    came, again = turn([7.0, 6.3, 6.9]), Turn()
    again.restore(came.save())
    assert bounced(again)
    again.forget()
    assert again.falling
    assert not again.bounced(T0)
