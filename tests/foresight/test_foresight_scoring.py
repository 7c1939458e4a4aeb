"""The benchmark of foresight scores a known forecast as it must: worked by hand on a pond drawn with a ruler."""

from __future__ import annotations

import sys
from array import array
from datetime import date, datetime, timedelta
from math import cos, log10, pi
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks" / "foresight"))

import bound
import buffer
import nights_peers
import peers
import tonight
from buffer_told import Truth
from case import Case, Readings
from dawns import Blocks
from figures import poisson, quantile, wilson
from sunlight import night_before
from watching import Alarm, Watched
from world import BEGIN, HOUR_MS, PLACES

from dawnline.event import Forecast

PLACE = PLACES[2]
FIVE_MIN = 300_000
DAYS = 24


@pytest.fixture(scope="module")
def rows():
    """The dawn low lies on a straight line in 10^pH and passes 6.5 on day 20; a daily wave of 0.4 above it."""
    out = []
    for index in range(DAYS * 288):
        day = index / 288
        low = log10(max(10**6.5 * (1 + 0.2 * (20 - day)), 1e5))
        out.append((BEGIN + index * FIVE_MIN, low + 0.2 * (1 - cos(2 * pi * (day - 3.5 / 24)))))
    return out


@pytest.fixture(scope="module")
def case(rows):
    nights = Blocks(rows).nights(PLACE)
    day = next(on for on, (_, low) in nights.items() if low < 6.5)
    ph = array("d", (value for _, value in rows))
    readings = {"alone": Readings(BEGIN, FIVE_MIN, ph, array("d", [15.0] * len(ph)))}
    return Case("ruler", 1, "buffer", PLACE, None, readings, truth={"day": day})


def test_a_date_is_scored_in_days_off_the_truth(case):
    day = case.truth["day"]
    body = {
        "reaches_low_on": (day + timedelta(days=1)).isoformat(),
        "earliest": (day - timedelta(days=1)).isoformat(),
        "latest": (day + timedelta(days=3)).isoformat(),
    }
    said = buffer._ours(case, [(day - timedelta(days=out), body) for out in range(9)])
    assert said == {7: (1, -1, 3), 5: (1, -1, 3), 3: (1, -1, 3)}
    none = {"reaches_low_on": None, "earliest": None, "latest": None}
    assert buffer._ours(case, [(day - timedelta(days=5), none)]) == {5: (None, None, None)}


def test_a_pond_without_a_date_counts_as_missed(case):
    rows = [{"said": {"dawnline, alone": {5: (0, -1, 1)}}, "alarms": [], "refused": []},
            {"said": {"dawnline, alone": {}}, "alarms": [6, 2], "refused": []}]  # fmt: skip
    line = next(line for line in buffer.report(rows).splitlines() if "| 5 " in line)
    cells = [cell.strip() for cell in line.split("|")[1:-1]]
    assert cells[3].startswith("50 %")
    assert cells[5].startswith("50 %")
    assert cells[-1].startswith("100 %")


def test_the_line_on_ten_to_the_ph_is_right_where_it_is_straight_and_the_one_through_ph_is_late(case):
    said = buffer._lines(case)
    assert [said["Theil-Sen on 10^pH"][out][0] for out in buffer.OUT] == [0, 0, 0]
    assert min(said["straight line through pH"][out][0] for out in buffer.OUT) > 2


def test_the_best_there_could_be_names_the_day_where_the_probe_is_right_and_follows_a_check_where_it_wanders():
    begin = date(2026, 6, 1)
    dawns = [(begin + timedelta(days=n), BEGIN + n * 24 * HOUR_MS, 0.4 - 0.018 * n) for n in range(18)]
    truth = [Truth(on, at, 7.5 + log10(alkalinity), alkalinity) for on, at, alkalinity in dawns]
    assert truth[-1].low < 6.5 < truth[-2].low
    right = {night.on: bound.Shown(night.at, night.low) for night in truth}
    assert bound.day(truth, right, [], truth[-6].on) == 5
    assert bound.day(truth, right, [], truth[0].on) is None
    # A probe that sinks by 0.02 a day looks like a buffer that goes faster; who knows its error is not misled.
    sinking = {night.on: bound.Shown(night.at, night.low - 0.02 * n) for n, night in enumerate(truth)}
    misled = bound.day(truth, sinking, [], truth[-8].on)
    checks = [(night.at + HOUR_MS, -0.02 * n) for n, night in enumerate(truth)]
    assert misled < 7
    assert abs(bound.day(truth, sinking, checks, truth[-8].on) - 7) <= 1


def test_tonight_takes_the_last_word_before_the_hour_and_its_bounds(rows):
    blocks = Blocks(rows)
    nights = blocks.nights(PLACE)
    forecasts = [
        Forecast("tonight", night.sunset + h * HOUR_MS, {
            "night": on.isoformat(), "low": low + 0.01 * h, "low_p10": low - 0.1, "low_p90": low - 0.05})
        for on, (night, low) in nights.items() for h in (1, 2, 4)
    ]  # fmt: skip
    guesses = tonight.guesses(blocks, PLACE, forecasts)
    off = {
        hours: {round(g.ours[0] - g.low, 6) for g in guesses if g.hours == hours and g.ours} for hours in (0, 1, 3, 5)
    }
    assert off == {0: set(), 1: {0.01}, 3: {0.02}, 5: {0.04}}
    at_three = [
        line for line in tonight.section(guesses).splitlines() if line.startswith("| +3 h") and "dawnline" in line
    ]
    below, above = (cell.strip() for cell in at_three[0].split("|")[-3:-1])
    assert below.startswith("0 %")
    assert above.startswith("100 %")


def test_a_marked_or_thin_night_has_no_low(rows):
    on = date(2026, 6, 1)
    night = night_before(on, PLACE)
    assert Blocks(rows).nights(PLACE)[on][1] is not None
    assert Blocks(rows, [night.midnight]).nights(PLACE)[on][1] is None
    gap = [(at, value) for at, value in rows if not night.midnight <= at < night.midnight + 5 * HOUR_MS]
    assert Blocks(gap).nights(PLACE)[on][1] is None


def test_sunset_and_sunrise_are_those_of_an_almanac():
    # 2026-06-21 at 47.95 N 8.21 E: 21:29 and 05:27 local (NOAA solar calculator, from memory), to two minutes
    night = night_before(date(2026, 6, 21), PLACE)
    midnight = night.midnight
    assert (night.sunset - midnight) / 60_000 == pytest.approx(-151 + 0.0, abs=2)
    assert (night.sunrise - midnight) / 60_000 == pytest.approx(327, abs=2)


def test_intervals_are_the_published_ones():
    # Agresti and Coull (1998), Am. Stat. 52, 119, from memory: Wilson for 0 of 10 ends at 0.278
    assert wilson(0, 10)[1] == pytest.approx(0.278, abs=0.001)
    assert poisson(0) == (0.0, pytest.approx(3.69, abs=0.03))  # exact: 3.689
    assert quantile([1.0, 2.0, 3.0, 4.0], 0.5) == 2.5


def test_peers_wake_on_what_they_are_made_for_and_not_on_a_spike():
    flat = [(i * FIVE_MIN, 7.5) for i in range(600)]
    spiked = [(at, 5.0 if i == 300 else ph) for i, (at, ph) in enumerate(flat)]
    falling = [(at, 7.5 - max(0, i - 300) * 0.05) for i, (at, ph) in enumerate(flat)]
    assert peers.limit(peers.smooth(spiked)) == []
    assert peers.rate(peers.grid(spiked), 1, 0.2) == []
    # 0.05 in five minutes: below 6.5 from the 321st step, known two steps later, ten minutes more for the limit
    assert peers.limit(peers.smooth(falling))[0] == (300 + 21 + 2 + 2) * FIVE_MIN
    assert peers.rate(peers.grid(falling), 1, 0.22)[0] == (300 + 5 + 2) * FIVE_MIN


def test_a_wake_is_an_incident_for_the_watch_as_for_its_peers():
    hours = [0, 1, 6, 13, 20]
    assert peers.wakes(hour * HOUR_MS for hour in hours) == [0, 13 * HOUR_MS, 20 * HOUR_MS]
    alarms = [Alarm(hour * HOUR_MS, "sudden-drop", "high", (hour + 1) * HOUR_MS) for hour in hours]
    assert Watched(alarms, [], [], []).woken(19 * HOUR_MS) == 2


@pytest.mark.parametrize(
    ("raised", "priority", "until", "told"),
    [
        ("21:30", "medium", "23:00", "21:30"),
        ("23:30", "medium", "09:00", "07:00"),
        ("23:30", "medium", "06:00", None),  # over before they hear of it
        ("23:30", "high", "23:45", "23:30"),
        ("02:00", "medium", "09:00", "07:00"),
        ("08:00", "medium", "09:00", "08:00"),
    ],
)
def test_what_is_medium_is_told_when_quiet_hours_are_over(raised, priority, until, told):
    zone = ZoneInfo(PLACE.zone)

    def at(clock):
        hour, minute = map(int, clock.split(":"))
        day = datetime(2026, 6, 21 if hour > 12 else 22, hour, minute, tzinfo=zone)
        return round(day.timestamp() * 1000)

    watched = Watched([Alarm(at(raised), "night-slide", priority, at(until))], [], [], [])
    assert watched.told(at("20:00"), at("10:00"), zone) == (None if told is None else at(told))


def test_a_peer_is_given_its_best_setting_within_a_number_of_early_wakes():
    found = [
        {"peers": {"limit 6.5": (None, 0), "limit 6.6": (2.0, 0), "limit 7": (9.0, 2), "rate 1": (4.0, 0)}},
        {"peers": {"limit 6.5": (None, 0), "limit 6.6": (None, 1), "limit 7": (9.0, 3), "rate 1": (None, 0)}},
    ]
    settings = nights_peers.outcomes(found, "limit")
    assert [nights_peers.best(settings, early).setting for early in (0, 1, 4, 5)] == [
        "limit 6.5", "limit 6.6", "limit 6.6", "limit 7",
    ]  # fmt: skip
    assert nights_peers.as_many(settings, 1).setting == "limit 6.6"
    assert nights_peers.as_many(settings, 2).early == 5
