"""A field board behind a cut link: what it kept comes later, in its order and with its own times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Day, Effect, Event, Keep, Tick, Transition
from dawnline.pipeline import Pipeline
from dawnline.reading import Flag, Sample

from ..pond import POND

ZONE = ZoneInfo("Europe/Berlin")
T0 = round(datetime(2026, 6, 10, tzinfo=ZONE).timestamp() * 1000)
DAYS = 4
PER_S = 20  # messages that come through once the link is back


def course() -> list[tuple[int, float]]:
    """A reading a minute, as an electrode gives it: dawn low 7.2, dusk high 8.0."""
    found = []
    for number in range(DAYS * 24 * 60):
        at = T0 + number * MINUTE_MS
        ph = 7.6 - 0.4 * math.cos(2 * math.pi * (number / 1440 - 5 / 24)) + 0.004 * math.sin(number * 1.7)
        found.append((at, round(ph, 3)))
    return found


def received(cut: tuple[int, int], *, again: int = 0) -> list[Sample]:
    """The readings as they come: those of the cut after it, oldest first, the live ones behind them.

    `again` of those before the cut come twice: the board had no answer for them.
    """
    free, found = 0, []
    readings = course()
    first = next(index for index, (at, _) in enumerate(readings) if at >= cut[0])
    order = [*readings[:first], *readings[first - again : first], *readings[first:]]
    for number, (at, ph) in enumerate(order):
        came = at if number < first else max(at, cut[1], free)
        free = came + 1000 // PER_S
        found.append(Sample("ph", at, ph, came))
    return found


def watch(samples: Sequence[Sample]) -> list[Effect]:
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    events: list[Event] = []
    tick = T0
    for sample in samples:
        while tick + MINUTE_MS < sample.received_at:
            tick += MINUTE_MS
            events.append(Tick(tick))
        events.append(sample)
    return [effect for event in [*events, Tick(T0 + DAYS * 24 * HOUR_MS)] for effect in pipe.step(event)]


def told(effects: Sequence[Effect]) -> list[tuple[str, str]]:
    return [(each.alarm, each.change) for each in effects if isinstance(each, Transition)]


@pytest.mark.parametrize("again", [0, 20])
def test_what_comes_late_in_order_is_as_good_as_if_it_had_come_in_time(again: int) -> None:
    cut = (T0 + 2 * 24 * HOUR_MS + 10 * HOUR_MS, T0 + 2 * 24 * HOUR_MS + 18 * HOUR_MS)  # within one day
    whole, late = watch(received((T0, T0))), watch(received(cut, again=again))
    kept = [[(each.reading.at, each.reading.value, each.reading.flag) for each in effects if isinstance(each, Keep)]
            for effects in (whole, late)]  # fmt: skip
    assert kept[1] == kept[0]
    assert {flag for *_, flag in kept[0]} == {Flag.GOOD}
    assert [each for each in late if isinstance(each, Day)] == [each for each in whole if isinstance(each, Day)]
    assert told(late) == [("no-data", "raised"), ("no-data", "returned")]


def test_a_day_that_has_closed_meanwhile_stays_closed_and_the_next_one_is_whole() -> None:
    cut = (T0 + 24 * HOUR_MS + 20 * HOUR_MS, T0 + 2 * 24 * HOUR_MS + 3 * HOUR_MS)  # from eight until three in the night
    whole, late = watch(received((T0, T0))), watch(received(cut))
    kept = [sum(isinstance(each, Keep) and each.reading.flag is Flag.GOOD for each in each_) for each_ in (whole, late)]
    assert kept[0] == kept[1]
    days = [[each for each in effects if isinstance(each, Day)] for effects in (whole, late)]
    assert [day.date for day in days[0]] == [day.date for day in days[1]]
    assert days[1][0] == days[0][0]
    assert 0.82 < days[1][1].coverage < 0.85  # twenty hours of it, as known at its midnight
    assert days[1][2:] == days[0][2:]
