"""After an illness a probe is believed where it stood before it, and not because it has grown calm."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.electrode.electrode import Electrode
from dawnline.outlook.doubt import Doubt
from dawnline.outlook.regained import Regained
from dawnline.outlook.sick import Sick
from dawnline.quality.judge import Judge

T0 = 1_780_000_000_000


def ill(level: float | None = 7.4, *, turns: bool = True) -> Regained:
    """An hour of trembling, from 7.4 on; what it says meanwhile is no level."""
    regained = Regained()
    for minute in range(60):
        regained.ill(T0 + minute * MINUTE_MS, level if minute == 0 else 5.0, "noisy", turns=turns and minute == 30)
    return regained


def calm(regained: Regained, value: float, minutes: int, begin: int = T0 + HOUR_MS) -> list[bool]:
    found = []
    for minute in range(minutes):
        regained.push(begin + minute * MINUTE_MS, value)
        found.append(regained.lost)
    return found


@pytest.mark.parametrize(("value", "lost"), [(5.9, True), (8.6, True), (7.4, False), (6.8, False), (8.0, False)])
def test_calm_far_from_where_it_stood_it_is_not_believed(value: float, lost: bool) -> None:
    assert set(calm(ill(), value, 120)) == {lost}


def test_it_says_how_far() -> None:
    regained = ill()
    calm(regained, 5.9, 2)
    assert regained.evidence() == "noisy: it has grown calm, and shows 1.50 less than before"


def test_near_for_half_an_hour_it_is_believed_and_then_may_fall_as_far_as_water_does() -> None:
    regained = ill()
    calm(regained, 7.3, 32)
    assert not any(calm(regained, 6.0, 60, begin=T0 + 2 * HOUR_MS))


@pytest.mark.parametrize(("interval", "held"), [(MINUTE_MS, 60), (15 * MINUTE_MS, 180)])
def test_who_was_just_ill_is_so_for_an_hour_or_twelve_readings_or_until_it_is_believed(
    interval: int, held: int
) -> None:
    regained = ill()
    assert regained.just_ill(regained.ill_at + held * MINUTE_MS, interval)
    assert not regained.just_ill(regained.ill_at + held * MINUTE_MS + 1, interval)
    calm(regained, 7.3, 32)
    assert not regained.just_ill(regained.ill_at + 33 * MINUTE_MS, interval)


def test_who_passes_by_is_not_believed() -> None:
    regained = ill()
    calm(regained, 7.3, 5)
    assert all(calm(regained, 6.0, 60, begin=T0 + 2 * HOUR_MS))


def test_once_back_at_its_level_for_some_minutes_it_may_fall_as_far_as_water_does() -> None:
    regained = ill()
    calm(regained, 7.3, 7)
    assert not any(calm(regained, 6.0, 60, begin=T0 + HOUR_MS + 7 * MINUTE_MS))


@pytest.mark.parametrize(
    ("course", "minutes"),
    [
        (lambda minute: 5.0 + minute / 400, 119),  # as its CO2 leaves it comes up slowly
        (lambda minute: 5.0 + 0.3 * (minute // 30 % 2), 29),  # it goes up and down
        (lambda minute: 5.0 + 2.0 * (minute == 60), 59),  # it was back at its level
        (lambda minute: 5.0 if not 60 < minute < 90 else None, 29),  # it was silent
    ],
)
def test_far_below_its_level_it_is_heard_for_how_long_it_goes_one_way(
    course: Callable[[int], float | None], minutes: int
) -> None:
    regained = ill()
    ways = [
        regained.hear(T0 + HOUR_MS + minute * MINUTE_MS, value, MINUTE_MS)
        for minute in range(120)
        if (value := course(minute)) is not None
    ]
    assert ways[-1] == minutes * MINUTE_MS


def heard(
    doubt: Doubt, judge: Judge, value: float, minutes: int, begin: int = T0 + HOUR_MS
) -> list[tuple[int, float] | None]:
    """Let the doubt hear a probe that says `value` each minute; what it made of it."""
    found = []
    for minute in range(minutes):
        judge.step.latest.append((begin + minute * MINUTE_MS, value))
        found.append(doubt.hear(judge, Sick(), Electrode("ph"), MINUTE_MS))
    return found


@pytest.mark.parametrize(("minutes", "held"), [(45, True), (46, False)])
def test_one_way_for_three_quarters_of_an_hour_far_below_its_level_it_is_water_whatever_it_did(
    minutes: int, held: bool
) -> None:
    doubt, judge = Doubt(), Judge("ph")
    doubt.regained, judge.step.lost = ill(), True
    judge.zigzag.turns = [T0 + 50 * MINUTE_MS, T0 + 55 * MINUTE_MS]
    assert set(heard(doubt, judge, 5.0, minutes)) == {None}
    assert doubt.regained.turned is judge.step.lost is judge.zigzag.restless is held


@pytest.mark.parametrize(("since_ill", "held"), [(2, True), (4, False)])
def test_a_slow_probe_must_go_one_way_for_three_hours_without_a_sign(since_ill: int, held: bool) -> None:
    doubt, judge = Doubt(), Judge("ph")
    doubt.regained = ill()
    for number in range(1 + 16):
        at = T0 + HOUR_MS + number * 15 * MINUTE_MS
        judge.step.latest.append((at, 5.0))
        if number <= 16 - 4 * since_ill:
            doubt.regained.ill(at, 7.4, "noisy", turns=True)
        doubt.hear(judge, Sick(), Electrode("ph"), 15 * MINUTE_MS)
    assert doubt.regained.turned is held


@pytest.mark.parametrize(("shift", "most"), [(0.4, 5.3), (-1.0, 6.3), (0.0, None)])
def test_on_a_lost_level_the_ph_is_no_higher_than_what_is_read_with_or_without_the_shift(
    shift: float, most: float | None
) -> None:
    doubt, judge = Doubt(), Judge("ph")
    judge.step.lost, judge.step.shift = True, shift
    found = heard(doubt, judge, 5.3, 47)
    assert set(found[:45]) == {None}
    assert [said and said[1] for said in found[45:]] == [most] * 2


@pytest.mark.parametrize("turns", [False, True])
def test_nor_is_it_taken_so_soon_of_one_that_went_up_and_down_or_left_the_water(turns: bool) -> None:
    doubt, judge = Doubt(), Judge("ph")
    doubt.regained, judge.step.lost, judge.step.shift = ill(turns=turns), True, 0.4
    said = []
    for at in range(T0 + HOUR_MS, T0 + HOUR_MS + 30 * MINUTE_MS, 10_000):
        judge.step.latest.append((at, 5.3))
        said.append(doubt.hear(judge, Sick(), Electrode("ph"), 10_000))
    assert (said[-1] is None) is turns


def test_a_probe_that_is_well_is_not_heard() -> None:
    assert set(heard(Doubt(), Judge("ph"), 5.0, 60)) == {None}


def test_after_a_day_without_a_sign_it_is_believed_and_each_sign_begins_the_day_anew() -> None:
    for again, lost in ((False, False), (True, True)):
        regained = ill()
        if again:
            regained.ill(T0 + 10 * HOUR_MS, 6.0, "noisy", turns=False)
        calm(regained, 8.6, 1, begin=T0 + 12 * HOUR_MS)
        assert regained.lost
        calm(regained, 8.6, 2, begin=T0 + DAY_MS + 2 * HOUR_MS)
        assert regained.lost is lost


def test_where_it_stood_before_is_not_known_it_is_believed() -> None:
    regained = Regained()
    regained.ill(T0, None, "noisy", turns=True)
    assert not any(calm(regained, 5.0, 60))


@pytest.mark.parametrize(("value", "lost"), [(4.0, False), (8.6, True)])
def test_who_went_one_way_may_have_acid_in_the_water(value: float, lost: bool) -> None:
    assert set(calm(ill(turns=False), value, 120)) == {lost}


@pytest.mark.parametrize(("difference", "lost"), [(0.3, False), (1.2, True)])
def test_a_test_by_hand_that_bears_it_out_is_believed(difference: float, lost: bool) -> None:
    doubt = Doubt()
    doubt.regained = ill()
    calm(doubt.regained, 5.9, 10)
    doubt.tested(T0 + 2 * HOUR_MS, difference)
    calm(doubt.regained, 5.9, 10, begin=T0 + 2 * HOUR_MS)
    assert doubt.regained.lost is lost


@pytest.mark.parametrize("lost", [True, False])
def test_where_a_step_put_it_is_not_far_below_its_level(lost: bool) -> None:
    doubt, judge = Doubt(), Judge("ph")
    doubt.regained, judge.step.lost, judge.step.shift = ill(), lost, -1.0
    heard(doubt, judge, 6.4, 60)
    assert doubt.regained.turned
    heard(doubt, judge, 5.4, 60, begin=T0 + 2 * HOUR_MS)
    assert not doubt.regained.turned
