"""Tonight's forecast: when it speaks, what it says, and what it must not hear."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from math import cos, pi
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Day, Effect, Forecast
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.slide import Slide
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import Sun
from dawnline.outlook.tonight import LEANS_WHOLLY, Tonight
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime(2026, 6, 8, tzinfo=ZONE).timestamp() * 1000)


def wave(at: int) -> float:
    """7.0 at five in the morning, 7.6 at five in the afternoon (summer time)."""
    return 7.3 + 0.3 * cos(2 * pi * (at / HOUR_MS + 2 - 17) / 24)


def fold(days: float, interval: int = 10 * MINUTE_MS, ph: Callable[[int], float] = wave) -> Iterator[Effect]:
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    for at in range(BEGIN, BEGIN + round(days * DAY_MS), interval):
        yield from pipe.step(Sample("ph", at, round(ph(at), 3), at))


def said(effects: Iterator[Effect]) -> list[Forecast]:
    return [each for each in effects if isinstance(each, Forecast) and each.about == "tonight"]


@pytest.mark.parametrize("minutes", [1, 5, 15, 30])
def test_it_speaks_from_sunset_to_the_end_of_the_dawn_window_every_half_hour(minutes: int) -> None:
    sun = Sun(47.95, 8.21, ZONE)
    found = said(fold(5.5, minutes * MINUTE_MS))
    last = [each.at for each in found if each.body["night"] == "2026-06-12"]
    evening, morning = sun.day_at(BEGIN + 3 * DAY_MS + DAY_MS // 2), sun.day_at(BEGIN + 4 * DAY_MS + DAY_MS // 2)
    late = 70 * MINUTE_MS if minutes == 30 else 30 * MINUTE_MS  # smoothing looks back over three readings
    assert evening.sunset <= last[0] <= evening.sunset + late
    assert morning.dawn[1] - 60 * MINUTE_MS <= last[-1] <= morning.dawn[1] + late
    assert max(b - a for a, b in pairwise(last)) <= 30 * MINUTE_MS


def test_it_is_silent_until_three_nights_are_known() -> None:
    """The first whole night ends on the 9th; that of the 8th begins at midnight and its evening was not seen."""
    nights = {each.body["night"] for each in said(fold(6))}
    assert min(nights) in ("2026-06-11", "2026-06-12")
    assert "2026-06-13" in nights


def test_an_ordinary_pond_is_foretold_to_a_hundredth_or_two() -> None:
    effects = list(fold(9))
    lows = {each.date: each.dawn_low for each in effects if isinstance(each, Day)}
    found = [each.body for each in said(iter(effects)) if each.body["night"] in lows]
    assert len(found) > 100
    for body in found:
        low = lows[body["night"]]
        assert low is not None
        assert abs(body["low"] - low) < 0.02
        assert body["low_p10"] <= body["low"] <= body["low_p90"]
        at = datetime.fromisoformat(body["at"])
        assert at.utcoffset() == timedelta(hours=2)
    before_midnight = [body for body in found if datetime.fromisoformat(body["at"]).hour < 9]
    assert before_midnight


def test_the_keys_are_those_of_the_contract_and_two_more() -> None:
    body = said(fold(6))[-1].body
    assert set(body) == {"night", "low", "low_p10", "low_p90", "at", "probe", "last_lows"}
    assert json.loads(json.dumps(body)) == body


def test_flagged_readings_change_nothing_that_a_hundredth_shows() -> None:
    """Spikes and values no probe can measure, one reading in forty, do not move the forecast."""
    dice = Random(4)

    def spiked(at: int) -> float:
        return wave(at) if dice.random() > 0.025 else wave(at) + dice.choice([-6.0, 1.5, -1.2])

    clean, dirty = ({(f.at, f.body["night"]): f.body for f in said(fold(7, MINUTE_MS, ph))} for ph in (wave, spiked))
    shared = clean.keys() & dirty.keys()
    assert len(shared) > 50
    assert max(abs(clean[key]["low"] - dirty[key]["low"]) for key in shared) < 0.02


def nights_that_differ(seed: int) -> Callable[[int], float]:
    dice = Random(seed)
    level = [dice.gauss(0.0, 0.08) for _ in range(90)]
    dawns = [dice.gauss(0.0, 0.05) for _ in range(90)]

    def ph(at: int) -> float:
        day, share = divmod((at - BEGIN) / DAY_MS + 0.5, 1.0)  # from noon to noon
        number, dark = int(day), (1 - cos(2 * pi * share)) / 2
        return wave(at) + level[number] * (1 - share) + level[number + 1] * share + dawns[number] * dark

    return ph


def test_one_night_in_ten_falls_below_and_one_above_the_bounds() -> None:
    below = above = count = 0
    for seed in range(3):
        effects = list(fold(70, 15 * MINUTE_MS, nights_that_differ(seed)))
        lows = {each.date: each.dawn_low for each in effects if isinstance(each, Day)}
        for each in said(iter(effects)):
            hour = datetime.fromtimestamp(each.at / 1000, ZONE).hour
            low = lows.get(each.body["night"])
            if hour in (22, 23) and low is not None:
                count += 1
                below += low < each.body["low_p10"] - 1e-3
                above += low > each.body["low_p90"] + 1e-3
    assert count > 500
    assert 0.05 <= below / count <= 0.15
    assert 0.05 <= above / count <= 0.15


def test_in_pieces_as_in_one_go_and_small() -> None:
    sun, ph = Sun(47.95, 8.21, ZONE), nights_that_differ(1)
    limits = LimitSettings()
    whole, pieces = Slide("ph", sun, limits), Slide("ph", sun, limits)
    found: list[list[Any]] = [[], []]
    for number, at in enumerate(range(BEGIN, BEGIN + 40 * DAY_MS, 15 * MINUTE_MS)):
        point, day = Point(at, round(ph(at), 3), at, 7.0), sun.day_at(at)
        for which, slide in enumerate((whole, pieces)):
            slide.push(point, day, 0.0)
            found[which] += slide.forecasts(at)
        if number % 97 == 0:
            saved = json.loads(json.dumps(pieces.save()))
            pieces = Slide("ph", sun, limits)
            pieces.restore(saved)
    assert found[0] == found[1]
    assert len(found[0]) > 500
    assert whole.save() == pieces.save()
    assert len(json.dumps(whole.save())) < 10_000


def test_a_water_change_in_the_evening_is_not_compared_across() -> None:
    """The level falls by four tenths at a stroke: `forget` keeps that from being a departure."""
    sun = Sun(47.95, 8.21, ZONE)
    tonight, done = Tonight(sun), BEGIN + 6 * DAY_MS + 20 * HOUR_MS
    told = False
    for at in range(BEGIN, BEGIN + 7 * DAY_MS, 5 * MINUTE_MS):
        if at >= done and not told:
            tonight.forget()
            told = True
        value = wave(at) - (0.4 if at >= done else 0.0)
        outlook = tonight.push(Point(at, value, at, value), sun.day_at(at))
        if outlook is not None and at >= done:
            assert outlook.scales < LEANS_WHOLLY


@pytest.mark.parametrize(("latitude", "month"), [(69.6, 6), (69.6, 12), (65.0, 12), (-34.9, 6), (0.0, 3), (47.95, 10)])
def test_any_latitude_and_both_changes_of_the_clock(latitude: float, month: int) -> None:
    sun = Sun(latitude, 18.9, ZONE)
    begin = round(datetime(2026, month, 15, tzinfo=ZONE).timestamp() * 1000)
    tonight, nights = Tonight(sun), set()
    for at in range(begin, begin + 15 * DAY_MS, 15 * MINUTE_MS):
        value = wave(at)
        outlook = tonight.push(Point(at, value, at, value), sun.day_at(at))
        if outlook is not None:
            assert tonight.night is not None
            nights.add(tonight.night.date)
            assert 6.5 < outlook.low_p10 <= outlook.low <= outlook.low_p90 < 8.0
    assert len(nights) >= 9


def test_a_gap_leaves_a_night_unlearned_and_the_next_is_foretold_all_the_same() -> None:
    sun = Sun(47.95, 8.21, ZONE)
    tonight = Tonight(sun)
    gap = range(BEGIN + 4 * DAY_MS + 20 * HOUR_MS, BEGIN + 5 * DAY_MS + 8 * HOUR_MS)
    last = None
    for at in range(BEGIN, BEGIN + 7 * DAY_MS, 10 * MINUTE_MS):
        if at not in gap:
            last = tonight.push(Point(at, wave(at), at, wave(at)), sun.day_at(at)) or last
    assert len(tonight.nights) == 6  # of seven dawns
    assert last is not None
    assert last.low == pytest.approx(7.0, abs=0.02)


def level_of(fall_per_hour: float, since: int, days: int = 6) -> tuple[Slide, list[int]]:
    """A pond whose seventh evening falls from `since` [h] on; the slide and its level every quarter of an hour."""
    sun = Sun(47.95, 8.21, ZONE)
    slide, begin = Slide("ph", sun, LimitSettings()), BEGIN + days * DAY_MS + since * HOUR_MS
    levels = []
    for at in range(BEGIN, BEGIN + (days + 1) * DAY_MS + 4 * HOUR_MS, 5 * MINUTE_MS):
        value = wave(at) - max(0.0, fall_per_hour * (at - begin) / HOUR_MS)
        slide.push(Point(at, value, at, value), sun.day_at(at), 0.0)
        levels.append(slide.level)
    return slide, levels


def test_an_ordinary_evening_is_no_slide() -> None:
    assert set(level_of(0.0, 21)[1]) == {0}


def test_a_fall_on_its_way_below_the_limit_is_first_medium_then_high() -> None:
    levels = level_of(0.12, 21)[1]
    assert max(levels) == 3
    assert levels.index(2) < levels.index(3)


@pytest.mark.parametrize(("fall_per_hour", "level"), [(0.03, 2), (0.045, 3)])
def test_a_strange_night_wakes_where_it_leads_so_near_the_limit_that_a_probe_may_hide_it(
    fall_per_hour: float, level: int
) -> None:
    """The lows so far are at 7.0, and these falls end at 6.74 and 6.59."""
    assert max(level_of(fall_per_hour, 21)[1]) == level


@pytest.mark.parametrize(("since", "told"), [(26.0, True), (31.0, False)])
def test_a_night_that_departs_does_so_until_the_ph_comes_up_and_none_begins_by_day(since: float, told: bool) -> None:
    """Sunrise is at half past five; the night's window ends four hours later."""
    sun, slide, by_day = Sun(47.95, 8.21, ZONE), Slide("ph", Sun(47.95, 8.21, ZONE), LimitSettings()), []
    for at in range(BEGIN, BEGIN + 7 * DAY_MS + 9 * HOUR_MS, 5 * MINUTE_MS):
        hours = (at - BEGIN - 6 * DAY_MS) / HOUR_MS
        value = wave(at) - max(0.0, 0.1 * (hours - since))
        slide.push(Point(at, value, at, value), sun.day_at(at), 0.0)
        if hours > 31:
            by_day.append(slide.level)
            words = slide.finding(slide.condition(), at).evidence
            assert ("this morning's low is expected" in words) == told
            assert "tonight" not in words
    assert {level >= 2 for level in by_day} == {told}


def test_the_evidence_names_the_fall_the_hour_and_the_last_nights() -> None:
    slide, _ = level_of(0.12, 21)
    text = slide.finding(slide.condition(), 0).evidence
    for words in (
        "pH has fallen",
        "is usual at this hour",
        "tonight's low is expected at pH",
        "last nights went down to",
    ):
        assert words in text


def test_what_the_probe_reads_too_high_counts_against_the_limit() -> None:
    sun, levels = Sun(47.95, 8.21, ZONE), []
    slide = Slide("ph", sun, LimitSettings())
    for at in range(BEGIN, BEGIN + 6 * DAY_MS, 10 * MINUTE_MS):
        slide.push(Point(at, wave(at), at, wave(at)), sun.day_at(at), 0.6)  # the water's lows are at 6.4
        levels.append(slide.level)
    assert 3 in levels


@pytest.mark.parametrize(("fall_per_hour", "told"), [(0.0, False), (0.022, True)])
def test_near_the_limit_a_strange_night_is_told_of_though_it_falls_slowly(fall_per_hour: float, told: bool) -> None:
    sun, levels, begin = Sun(47.95, 8.21, ZONE), [], BEGIN + 6 * DAY_MS + 21 * HOUR_MS
    slide = Slide("ph", sun, LimitSettings())
    for at in range(BEGIN, BEGIN + 7 * DAY_MS + 5 * HOUR_MS, 5 * MINUTE_MS):
        value = wave(at) - 0.27 - max(0.0, fall_per_hour * (at - begin) / HOUR_MS)  # the lows are at 6.73
        slide.push(Point(at, value, at, value), sun.day_at(at), 0.0)
        assert value > 6.5
        levels.append(slide.level)
    assert (max(levels) >= 2) == told


@pytest.mark.parametrize(("grain", "offset"), [(0.01, 0.0), (0.01, 0.004), (0.05, 0.0)])
def test_what_a_probe_shows_in_steps_is_foretold_on_one_of_them(grain: float, offset: float) -> None:
    sun, ph, slide = Sun(47.95, 8.21, ZONE), nights_that_differ(2), Slide("ph", Sun(47.95, 8.21, ZONE), LimitSettings())
    bodies = []
    for at in range(BEGIN, BEGIN + 8 * DAY_MS, 15 * MINUTE_MS):
        value = round(ph(at) / grain) * grain + offset
        slide.push(Point(at, value, at, value), sun.day_at(at), 0.0, grain)
        body = slide.body()
        bodies += [body] if body is not None else []
    assert len(bodies) > 100
    for body in bodies:
        low, p10, p90 = (float(str(body[key])) for key in ("low", "low_p10", "low_p90"))
        steps = (low - offset) / grain
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert p10 <= low <= p90


def test_what_the_probe_beside_it_does_not_share_of_a_fall_is_no_departure() -> None:
    """A reference that drifts by 0.3 a day makes a night strange; its twin bears out a part of it."""
    sun, ph = Sun(47.95, 8.21, ZONE), nights_that_differ(1)
    found = []
    for unshared in (0.0, 0.15):
        slide, levels = Slide("ph", sun, LimitSettings()), []
        for at in range(BEGIN, BEGIN + 12 * DAY_MS, 5 * MINUTE_MS):
            begun = at - (BEGIN + 11 * DAY_MS - 2 * HOUR_MS)
            extra = 0.25 * min(max(begun / (6 * HOUR_MS), 0.0), 1.0)
            slide.push(
                Point(at, round(ph(at) - extra, 3), at, 7.0), sun.day_at(at), 0.0, 0.0, unshared if begun > 0 else 0.0
            )
            levels.append(slide.level if begun > 0 else 0)
        found.append(max(levels))
    assert found[0] >= 2 > found[1]
