"""What the low owes to the evening: learned from what changes from night to night, and no forecast misled by it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import cos, pi
from random import Random
from statistics import fmean
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.outlook.night_steps import by_steps
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import Sun
from dawnline.outlook.tonight import Tonight

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime(2026, 6, 8, tzinfo=ZONE).timestamp() * 1000)
NIGHTS = 30


@pytest.mark.parametrize("slope", [0.0, 0.4, 0.9])
@pytest.mark.parametrize("expected", [0.2, 0.9])
def test_the_slope_is_learned_whatever_was_expected(slope: float, expected: float) -> None:
    dice = Random(7)
    earlier = [7.5 + dice.gauss(0.0, 0.2) for _ in range(20)]
    lows = [7.0 + slope * (value - 7.5) for value in earlier]
    found = by_steps([*earlier, 7.9], lows, [None] * 21, expected)
    assert found[1] == pytest.approx(7.0 + slope * 0.4, abs=0.06)


def test_what_the_fall_of_late_tells_is_used_by_those_that_take_it() -> None:
    """Here the evening says nothing and the fall of the last two hours everything."""
    dice = Random(8)
    earlier = [7.5 + dice.gauss(0.0, 0.2) for _ in range(20)]
    falls = [0.1 + dice.gauss(0.0, 0.03) for _ in range(20)]
    lows = [7.0 - 2.0 * (fell - 0.1) for fell in falls]
    without, with_fall = by_steps([*earlier, 7.5], lows, [*falls, 0.2], 0.5)
    assert with_fall == pytest.approx(6.8, abs=0.03)
    assert abs(without - 6.8) > 0.05


def test_nights_that_were_all_alike_leave_what_is_expected() -> None:
    assert by_steps([*[7.4] * 5, 7.5], [7.0] * 5, [0.1] * 6, 0.5) == pytest.approx([7.05, 7.05])


def foretold(pond: Callable[[int, float], float], hour: int, noise: float = 0.0) -> list[tuple[float, float, float]]:
    """Of the later half of the nights: low foretold an `hour` after sunset, true low, and that of the night before."""
    sun, dice = Sun(47.95, 8.21, ZONE), Random(3)
    tonight = Tonight(sun)
    true: dict[str, float] = {}
    said: dict[str, float] = {}
    for at in range(BEGIN, BEGIN + NIGHTS * DAY_MS, 5 * MINUTE_MS):
        number, share = divmod((at - BEGIN) / DAY_MS + 0.5, 1.0)
        value, day = pond(int(number), share), sun.day_at(at)
        tonight.push(Point(at, value + dice.gauss(0.0, noise), at, value), day)
        night = tonight.night
        assert night is not None
        if night.midnight <= at < night.end:
            true[night.date] = min(value, true.get(night.date, value))
        if tonight.outlook is not None and at >= night.sunset + hour * HOUR_MS:
            said.setdefault(night.date, tonight.outlook.low)
    dates = sorted(true)
    pairs = list(zip(dates[NIGHTS // 2 - 1 :], dates[NIGHTS // 2 :], strict=False))
    return [(said[date], true[date], true[before]) for before, date in pairs if date in said]


def windy(seed: int) -> Callable[[int, float], float]:
    """A pond whose evenings differ by what the day was like, and whose lows know nothing of it."""
    dice = Random(seed)
    evenings = [dice.gauss(0.3, 0.2) for _ in range(NIGHTS + 2)]
    lows = [7.0]
    for _ in range(NIGHTS + 2):
        lows.append(lows[-1] + dice.gauss(0.0, 0.02))

    def ph(number: int, share: float) -> float:
        dark = (1.0 - cos(2 * pi * (share - 0.2))) / 2  # 1 at about five in the morning
        return lows[number] + max(evenings[number], 0.0) * (1.0 - dark) + 0.3 * (1.0 - dark)

    return ph


@pytest.mark.parametrize("hour", [0, 1, 3])
def test_evenings_that_say_nothing_do_not_make_it_worse_than_as_last_night(hour: int) -> None:
    found = [row for seed in range(4) for row in foretold(windy(seed), hour)]
    assert len(found) > 40
    ours = fmean(abs(said - low) for said, low, _ in found)
    last = fmean(abs(before - low) for _, low, before in found)
    assert ours < 1.1 * last


def test_a_probe_that_trembles_shows_no_deeper_low() -> None:
    found = foretold(lambda _, share: 7.3 - 0.3 * cos(2 * pi * (share - 0.7)), 3, noise=0.015)
    assert len(found) > 10
    assert abs(fmean(said - low for said, low, _ in found)) < 0.02
