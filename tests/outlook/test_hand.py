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
