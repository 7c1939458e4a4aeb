"""Each story is what its docstring says, for several seeds."""

from __future__ import annotations

import importlib
from collections import defaultdict
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise
from statistics import median, pstdev
from zoneinfo import ZoneInfo

import pytest
from astral import Observer
from astral.sun import sun

from dawnline_simulator.scenario import START
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import Row, simulate

BERLIN = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime.fromisoformat(START).timestamp() * 1000)
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000
SEEDS = range(1, 6)


@cache
def told(name: str, seed: int) -> tuple[Row, ...]:
    return tuple(simulate(SCENARIOS[name], seed, BEGIN, None, MINUTE))


def local(at: int) -> datetime:
    return datetime.fromtimestamp(at / 1000, BERLIN)


def days(rows) -> list[list[Row]]:
    by_date = defaultdict(list)
    for row in rows:
        by_date[local(row.at).date()].append(row)
    return list(by_date.values())


def dawn_low(day) -> Row:
    return min((row for row in day if local(row.at).hour < 10), key=lambda row: row.truth.ph)


def dusk_high(day) -> Row:
    return max((row for row in day if local(row.at).hour >= 12), key=lambda row: row.truth.ph)


def ph_at(rows, at: int) -> float:
    return rows[round((at - rows[0].at) / MINUTE)].truth.ph


def first_below(rows, ph: float) -> int:
    return next(row.at for row in rows if row.truth.ph < ph)


def wander(days: float) -> float:
    """Three standard deviations of a walk of 0.02 pH a root day, and the noise (0.01) with its rounding."""
    return 3 * 0.02 * days**0.5 + 0.01


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_story_names_itself_and_tells_what_happens(name):
    module = importlib.import_module(f"dawnline_simulator.scenarios.{name.replace('-', '_')}")
    assert module.SCENARIO is SCENARIOS[name]
    assert module.__doc__.startswith(f"{name}: ")
    assert len(told(name, 1)) == SCENARIOS[name].days * 1440


@pytest.mark.parametrize("seed", SEEDS)
def test_quiet_week_has_the_rhythm_of_a_healthy_pond(seed):
    place = Observer(latitude=47.95, longitude=8.21)
    for number, day in enumerate(days(told("quiet-week", seed)), 1):
        low, high = dawn_low(day), dusk_high(day)
        times = sun(place, date=local(day[0].at).date(), tzinfo=BERLIN)
        assert times["sunrise"] - timedelta(hours=2) <= local(low.at) <= times["sunrise"] + timedelta(hours=3)
        assert local(high.at).hour >= 14
        assert local(high.at) <= times["sunset"] + timedelta(hours=1)
        assert 7.3 <= low.truth.ph <= 7.55
        assert 7.75 <= high.truth.ph <= 8.25
        assert 0.3 <= high.truth.ph - low.truth.ph <= 0.65
        assert all(0.95 < row.truth.alkalinity_meq_l < 1.1 for row in day)
        assert median(abs(row.ph - row.truth.ph) for row in day) < wander(number)
    assert not any(row.event for row in told("quiet-week", seed))


@pytest.mark.parametrize("seed", SEEDS)
def test_buffer_runs_out_sinks_straight_and_then_falls_off_a_cliff(seed):
    rows = told("buffer-runs-out", seed)
    calm = [dawn_low(day).truth.ph for day in days(rows)[:10]]
    assert all(two < one for one, two in pairwise(calm))
    assert calm[-1] > 6.8
    # 10^pH of the dawn lows on a straight line: the middle lies where the ends say
    power = [10.0**ph for ph in calm]
    assert (power[4] + power[5]) / 2 == pytest.approx((power[0] + power[9]) / 2, rel=0.1)
    assert min(row.truth.ph for row in rows if row.at < BEGIN + 10 * DAY) > 6.7

    crossing = first_below(rows, 6.5)
    assert 1.5 <= (crossing - BEGIN - 10 * DAY) / HOUR <= 4.5
    dawn = ph_at(rows, BEGIN + 10 * DAY + 7 * HOUR)
    assert 5.8 < dawn < 6.12


@pytest.mark.parametrize("seed", SEEDS)
def test_buffer_runs_out_can_be_seen_an_hour_before(seed):
    rows = told("buffer-runs-out", seed)
    warning = first_below(rows, 6.5) - HOUR

    def excess(at: int, window: int) -> float:
        def fall(when: int) -> float:
            return ph_at(rows, when - window) - ph_at(rows, when)

        return fall(at) - median(fall(at - n * DAY) for n in range(1, 8))

    assert max(excess(at, HOUR) for at in range(warning - 2 * HOUR, warning, 5 * MINUTE)) > 0.12
    assert excess(warning, 3 * HOUR) > 0.15


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["cloudburst", "air-stops"])
def test_an_abnormal_night_takes_a_calm_pond_below_the_limit(name, seed):
    rows = told(name, seed)
    fourth_evening = BEGIN + 3 * DAY + 18 * HOUR
    assert min(row.truth.ph for row in rows if row.at < fourth_evening) > 6.6
    night = [row for row in rows if fourth_evening <= row.at < fourth_evening + 16 * HOUR]
    crossing = first_below(night, 6.5)
    assert 4.5 * HOUR <= crossing - fourth_evening <= 13 * HOUR
    assert dawn_low(days(rows)[5]).truth.ph > 6.6


@pytest.mark.parametrize("seed", SEEDS)
def test_air_stops_is_a_clear_fall_beside_the_same_night_with_air(seed):
    rows, story = told("air-stops", seed), SCENARIOS["air-stops"]
    aired = list(simulate(replace(story, happenings=()), seed, BEGIN, 4.5, MINUTE))
    stop = BEGIN + 3 * DAY + 20 * HOUR
    assert ph_at(rows, stop) == ph_at(aired, stop)
    less = [ph_at(aired, stop + hours * HOUR) - ph_at(rows, stop + hours * HOUR) for hours in (0, 3, 6, 9)]
    assert all(two > one for one, two in pairwise(less))
    assert less[1] > 0.12
    assert less[2] > 0.25
    assert less[3] > 0.33
    assert 5 <= (first_below(rows, 6.5) - stop) / HOUR <= 8
    assert min(row.truth.ph for row in rows) < 6.42  # deeper than the probe wanders


def test_cloudburst_dilutes_the_buffer_and_air_stops_does_not():
    for name, least, most in (("cloudburst", 0.5, 0.72), ("air-stops", 0.95, 1.05)):
        rows = told(name, 1)
        before, after = (rows[round((3 * DAY + hours * HOUR) / MINUTE)].truth for hours in (18, 24))
        assert least < after.alkalinity_meq_l / before.alkalinity_meq_l < most
        assert after.co2_umol_l > 1.5 * before.co2_umol_l


@pytest.mark.parametrize("seed", SEEDS)
def test_acid_overdose_falls_by_two_at_once_and_does_not_come_back(seed):
    rows = told("acid-overdose", seed)
    before = BEGIN + 3 * DAY + 18 * HOUR + 30 * MINUTE
    assert ph_at(rows, before) - ph_at(rows, before + 30 * MINUTE) > 2.0
    assert ph_at(rows, before + 12 * HOUR) - ph_at(rows, before + 30 * MINUTE) > 0.5  # the CO2 leaves
    assert dusk_high(days(rows)[5]).truth.ph < 7.4
    assert rows[-1].truth.alkalinity_meq_l < 0.25


@pytest.mark.parametrize("seed", SEEDS)
def test_algae_bloom_widens_the_swing_and_keeps_the_buffer(seed):
    story = days(told("algae-bloom", seed))
    assert dusk_high(story[0]).truth.ph - dawn_low(story[0]).truth.ph < 0.7
    for day in story[6:]:
        assert dusk_high(day).truth.ph > 8.9
        assert dusk_high(day).truth.ph - dawn_low(day).truth.ph > 1.2
        assert day[0].truth.alkalinity_meq_l > 0.8


def test_probe_drifts_while_the_pond_is_well():
    rows = told("probe-drifts", 1)
    wrong = [median(row.ph - row.truth.ph for row in day) for day in days(rows)]
    assert abs(wrong[0]) < 0.06
    assert wrong[10] == pytest.approx(-0.08 * 8.5, abs=0.15)
    assert min(row.truth.ph for row in rows) > 7.3


@pytest.mark.parametrize("seed", SEEDS)
def test_probe_out_of_water_shows_the_air_and_comes_back(seed):
    story, outing = told("probe-out-of-water", seed), BEGIN + 3 * DAY + 2 * HOUR + 20 * MINUTE

    def rows(begin: int, end: int) -> list[Row]:
        return [row for row in story if outing + begin * MINUTE <= row.at < outing + end * MINUTE]

    out = rows(20, 180)
    assert all(abs(row.water - row.truth.temperature_c) > 2.0 for row in out)
    assert median(abs(row.ph - row.truth.ph) for row in out) > 0.3
    assert pstdev(row.ph for row in out) > 0.1
    # back in the water it is wrong by what it was wrong before, and six hours of wander between the middles
    before, after = (median(row.ph - row.truth.ph for row in part) for part in (rows(-180, 0), rows(200, 380)))
    assert abs(after - before) < wander(0.26)
    assert abs(median(row.water - row.truth.temperature_c for row in rows(200, 380))) < 0.1
    assert [row.event for row in story if row.event] == [
        "probe out of the water",
        "probe back in the water",
    ] * 2


def test_wire_breaks_in_three_ways():
    story = told("wire-breaks", 1)
    lengths = {kind: sum(row.line == kind for row in story) for kind in ("garbage", "silent", "unplugged")}
    assert lengths == {"garbage": 15, "silent": 240, "unplugged": 60}
