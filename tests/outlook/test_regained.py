"""After an illness a probe is believed where it stood before it, and not because it has grown calm."""

from __future__ import annotations

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.outlook.doubt import Doubt
from dawnline.outlook.regained import Regained

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


def test_who_passes_by_is_not_believed() -> None:
    regained = ill()
    calm(regained, 7.3, 5)
    assert all(calm(regained, 6.0, 60, begin=T0 + 2 * HOUR_MS))


def test_once_back_at_its_level_for_some_minutes_it_may_fall_as_far_as_water_does() -> None:
    regained = ill()
    calm(regained, 7.3, 7)
    assert not any(calm(regained, 6.0, 60, begin=T0 + HOUR_MS + 7 * MINUTE_MS))


@pytest.mark.parametrize(("swing", "believed"), [(0.05, True), (0.3, False)])
def test_far_below_its_level_it_is_believed_once_it_has_gone_one_way_for_hours(swing: float, believed: bool) -> None:
    regained, found = ill(), []
    for minute in range(4 * 60):
        found += calm(
            regained, 5.0 + minute / 400 + swing * (minute // 5 % 4), 1, begin=T0 + HOUR_MS + minute * MINUTE_MS
        )
    assert found[60]
    assert found[-1] is not believed


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
