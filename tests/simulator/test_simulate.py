"""One seed is one story, whatever is asked of it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime
from itertools import islice
from zoneinfo import ZoneInfo

import pytest

from dawnline_simulator.faults import WireBreaks
from dawnline_simulator.scenario import START
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import simulate
from dawnline_simulator.table import write_tables

BERLIN = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime.fromisoformat(START).timestamp() * 1000)
HOUR = 3_600_000


def rows(name="cloudburst", seed=3, start=BEGIN, days=0.5, interval=60_000):
    return list(simulate(SCENARIOS[name], seed, start, days, interval))


def test_the_same_seed_gives_the_same_rows_and_another_seed_others():
    assert rows() == rows()
    assert [row.ph for row in rows()] != [row.ph for row in rows(seed=4)]
    assert [row.truth for row in rows()] != [row.truth for row in rows(seed=4)]


def test_a_shorter_run_is_the_beginning_of_a_longer():
    long = simulate(SCENARIOS["cloudburst"], 3, BEGIN, 6, 60_000)
    assert rows(days=0.5) == list(islice(long, 720))


def test_the_interval_leaves_the_truth_alone():
    coarse, fine = rows(interval=60_000), rows(interval=10_000)
    assert [row.truth for row in coarse] == [row.truth for row in fine[::6]]
    assert len(fine) == 6 * len(coarse)


def test_times_step_evenly_from_the_start():
    times = [row.at for row in rows(start=BEGIN + 5 * HOUR + 7_000)]
    assert times == [BEGIN + 5 * HOUR + 7_000 + n * 60_000 for n in range(720)]


def test_the_pond_can_be_varied():
    story = SCENARIOS["quiet-week"]
    still = replace(story, pond=replace(story.pond, aeration_per_hour=0.03))
    usual, stale = (list(simulate(s, 1, BEGIN, 0.25, 60_000)) for s in (story, still))
    assert stale[-1].truth.co2_umol_l > 1.3 * usual[-1].truth.co2_umol_l


def test_a_story_across_the_change_of_the_clock_keeps_its_days():
    start = round(datetime.fromisoformat("2026-10-24T00:00:00+02:00").timestamp() * 1000)
    story = replace(SCENARIOS["wire-breaks"], faults=(WireBreaks(2, "06:00", 1.0, "silent"),))
    lines = [(row.at, row.line) for row in simulate(story, 1, start, 2.1, 600_000)]
    first = next(at for at, line in lines if line == "silent")
    assert datetime.fromtimestamp(first / 1000, BERLIN).isoformat() == "2026-10-25T06:00:00+01:00"


def test_tables_have_their_exact_form():
    story = replace(SCENARIOS["wire-breaks"], faults=(WireBreaks(1, "00:01", 1 / 60, "silent"),))
    readings, truth = io.StringIO(), io.StringIO()
    count = write_tables(simulate(story, 1, BEGIN, 4 / 1440, 60_000), BERLIN, readings, truth)
    lines, true = readings.getvalue().splitlines(), truth.getvalue().splitlines()
    assert count == 4
    assert lines[0] == "time,ph,water"
    assert true[0] == "time,ph,temperature,alkalinity_meq_l,co2_umol_l,event"
    assert lines[2] == "2026-06-04T00:01:00+02:00,,"
    assert true[2].endswith(",wire breaks")
    assert true[3].endswith(",wire is whole")
    time, ph, water = lines[1].split(",")
    assert time == "2026-06-04T00:00:00+02:00"
    assert [len(cell.partition(".")[2]) for cell in (ph, water)] == [2, 2]
    assert [len(cell.partition(".")[2]) for cell in true[1].split(",")[1:5]] == [4, 4, 4, 4]
    assert float(true[1].split(",")[1]) == pytest.approx(float(ph), abs=0.1)
