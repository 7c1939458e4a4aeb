from __future__ import annotations

import pytest

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.outlook.hand import STALE_MS, Hand

T0 = 1_780_000_000_000


def after(*differences: float, every: int = 7 * DAY_MS) -> Hand:
    hand = Hand()
    for i, difference in enumerate(differences):
        hand.push(T0 + i * every, difference)
    return hand


@pytest.mark.parametrize(
    ("differences", "expected"),
    [
        ((), None),
        ((0.4,), None),  # as near as a drop kit can tell
        ((0.6,), None),  # one test accuses only where it is far off
        ((-0.9,), -0.9),
        ((-0.5, -0.7), -0.5),  # of two, the smaller is certain
        ((0.5, -0.5), None),  # they contradict each other
        ((-0.7, 0.1), None),  # the latest bears it out
        ((0.1, -0.6), None),
    ],
)
def test_two_tests_that_agree_name_the_probe(differences: tuple[float, ...], expected: float | None) -> None:
    hand = after(*differences)
    assert hand.difference(T0 + 7 * DAY_MS) == expected


def test_beyond_what_a_record_is_corrected_by_it_is_too_far_off() -> None:
    assert not after(2.2).too_far(T0)
    assert after(2.4).too_far(T0)
    assert after(-2.4).too_far(T0)


def test_limits_are_judged_less_what_is_certain() -> None:
    assert after(-0.9).error(T0) == pytest.approx(-0.6)
    assert after(0.5, 0.7).error(T0 + 7 * DAY_MS) == pytest.approx(0.2)
    assert after(0.3).error(T0) == 0.0


def test_two_tests_within_hours_are_one() -> None:
    assert after(-0.5, -0.6, every=HOUR_MS).difference(T0 + HOUR_MS) is None


def test_an_old_test_says_nothing_any_more() -> None:
    assert after(-0.9).difference(T0 + STALE_MS) == -0.9
    assert after(-0.9).difference(T0 + STALE_MS + 1) is None


def test_calibrating_begins_anew() -> None:
    hand = after(-0.9)
    hand.forget()
    assert hand.difference(T0) is None


def followed(hand: Hand, begin: int, days: int, change: float) -> Hand:
    for phase in range(48 * days):
        hand.follow(begin + phase * DAY_MS // 48, change, 1 / 48)
    return hand


def test_a_drift_goes_on_after_the_test_at_its_pace_while_the_level_follows() -> None:
    tested = T0 + 7 * DAY_MS
    assert followed(after(0.0, -1.4), tested, 5, -0.2).error(tested) == pytest.approx(-1.1 - 1.0)
    assert followed(after(0.0, -1.4), tested, 5, 0.0).error(tested) == pytest.approx(-1.1)  # a probe off by a constant
    assert followed(after(0.0, 1.4), tested, 5, 0.2).error(tested) == pytest.approx(1.1 + 1.0)


def test_what_falls_faster_than_the_drift_is_the_water() -> None:
    tested = T0 + 7 * DAY_MS
    assert followed(after(0.0, -1.4), tested, 1, -1.0).error(tested) == pytest.approx(-1.1 - 0.25)


@pytest.mark.parametrize("hand", [after(-0.9), after(-0.9, every=DAY_MS), after(-1.4, -0.9), after(0.0, -0.3), Hand()])
def test_without_a_pace_nothing_goes_on(hand: Hand) -> None:
    before = hand.error(T0 + 7 * DAY_MS)
    assert followed(hand, T0 + 7 * DAY_MS, 3, -0.2).error(T0 + 7 * DAY_MS) == before


def test_long_after_the_last_test_nobody_knows_the_pace() -> None:
    begin = T0 + 18 * DAY_MS
    assert followed(after(0.0, -1.4), begin, 3, -0.2).drifted == 0.0


def test_the_earlier_of_two_tests_counts_with_what_it_drifted_until_the_later() -> None:
    hand = followed(after(0.0, -1.4), T0 + 7 * DAY_MS, 7, -0.2)
    hand.push(T0 + 14 * DAY_MS, -2.7)
    assert hand.difference(T0 + 14 * DAY_MS) == pytest.approx(-2.7)
    hand.push(T0 + 21 * DAY_MS, -9.0)  # misread
    assert hand.difference(T0 + 21 * DAY_MS) == pytest.approx(-2.7)


def test_a_step_that_takes_the_error_away_puts_the_probe_right() -> None:
    hand = after(0.0, -1.4)
    at = T0 + 7 * DAY_MS
    assert hand.undone_by(at, 1.5)
    assert not hand.undone_by(at, -1.5)
    assert not hand.undone_by(at, 0.7)
    assert not Hand().undone_by(at, 1.5)


def test_it_remembers_across_a_restart() -> None:
    hand, again = followed(after(0.0, -1.4), T0 + 7 * DAY_MS, 3, -0.2), Hand()
    again.restore(hand.save())
    assert again.save() == hand.save()
    assert again.error(T0 + 10 * DAY_MS) == hand.error(T0 + 10 * DAY_MS)


@pytest.mark.parametrize(
    ("crept", "differences", "accused"),
    [
        (0.6, (0.05, 0.64), True),
        (-0.6, (0.0, -0.6), True),
        (-0.6, (0.05, 0.64), False),  # the probe crept the other way
        (0.2, (0.05, 0.64), False),  # its days stood: more likely the kit was misread
        (0.6, (0.05, 0.35), False),  # as near as a drop kit can tell
        (0.6, (0.64,), False),  # no earlier test bore it out
    ],
)
def test_one_test_names_a_probe_whose_days_have_crept_away_by_as_much(
    crept: float, differences: tuple[float, ...], accused: bool
) -> None:
    hand, last = after(*differences[:-1]), T0 + 7 * DAY_MS
    followed(hand, T0, 7, crept / 7)
    hand.push(last, differences[-1])
    assert hand.difference(last) == (differences[-1] if accused else None)


def test_what_crept_counts_on_where_a_test_is_made_again_or_corrected() -> None:
    hand, last = after(0.05), T0 + 7 * DAY_MS
    followed(hand, T0, 7, 0.09)
    hand.push(last - HOUR_MS, 0.5)
    hand.push(last, 0.64)  # the same test, once more
    assert hand.difference(last) == 0.64
    hand.amend(last, 0.2)
    assert hand.difference(last) is None
    hand.amend(last, None)
    assert hand.difference(last) is None


def test_what_the_days_bear_out_is_more_certain() -> None:
    last = T0 + 7 * DAY_MS
    for crept, error in ((0.1, 0.6), (0.0, 0.45)):
        hand = followed(after(0.0), T0, 7, crept)
        hand.push(last, 0.75 if crept else 0.9)
        assert hand.error(last) == pytest.approx(error if crept else 0.6)
