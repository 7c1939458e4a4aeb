"""The simulator's stories through the fold: who is told, when, and who is left to sleep."""

from __future__ import annotations

from datetime import datetime
from functools import cache

import pytest

from dawnline.catalogue_file import shipped
from dawnline.event import Priority, Transition
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import simulate

from ..pond import POND

BEGIN = round(datetime.fromisoformat("2026-06-04T00:00:00+02:00").timestamp() * 1000)
HOUR_MS = 3_600_000
FORETOLD = ("night-slide", "sudden-drop")  # either, never both for one fall


@cache
def told(name: str, seed: int) -> tuple[list[tuple[str, Priority, int]], int | None]:
    """Alarms raised and escalated (alarm, priority, time) and when the true pH first passed 6.5."""
    pipe, found, crossed = (
        Pipeline(shipped(), POND, [("ph", "ph", None, None), ("water", "temperature", None, None)]),
        [],
        None,
    )
    for row in simulate(SCENARIOS[name], seed, BEGIN, None, 30_000):
        if crossed is None and row.truth.ph < 6.5:
            crossed = row.at
        if row.line != "whole":
            continue
        for sample in (Sample("ph", row.at, row.ph, row.at), Sample("water", row.at, row.water, row.at)):
            effects = pipe.step(sample)
            moves = [e for e in effects if isinstance(e, Transition) and e.change in ("raised", "escalated")]
            found += [(e.alarm, e.priority, e.at) for e in moves]
    return found, crossed


@pytest.mark.parametrize("seed", range(1, 6))
def test_nobody_is_woken_in_a_quiet_week(seed: int) -> None:
    assert [row for row in told("quiet-week", seed)[0] if row[1] != "low"] == []


@pytest.mark.parametrize("seed", range(1, 7))
def test_the_empty_buffer_is_told_of_before_the_ph_is_low(seed: int) -> None:
    found, crossed = told("buffer-runs-out", seed)
    assert crossed is not None
    # The buffer's own alarm may be of high priority a day or two before.
    first = next(at for alarm, priority, at in found if priority == "high" and alarm != "buffer-running-out")
    assert first < crossed
    assert first > BEGIN + 9.5 * 24 * HOUR_MS  # and not in the calm days before


def test_the_fall_is_told_an_hour_before_the_low_in_most_seeds_and_before_the_limit_in_all() -> None:
    before_limit, before_alarm = [], []
    for seed in range(1, 7):
        found, crossed = told("buffer-runs-out", seed)
        drop, low = (next(at for alarm, _, at in found if alarm in names) for names in (FORETOLD, ("ph-low",)))
        assert crossed is not None
        before_limit.append(crossed - drop)
        before_alarm.append(low - drop)
    assert min(before_limit) > 0
    assert sum(lead >= HOUR_MS for lead in before_alarm) >= 4


@pytest.mark.parametrize("seed", [1, 2])
def test_a_cloudburst_is_told_before_the_ph_is_low(seed: int) -> None:
    found, crossed = told("cloudburst", seed)
    assert crossed is not None
    assert next(at for alarm, _, at in found if alarm in FORETOLD) < crossed


@pytest.mark.parametrize("seed", [1, 2])
def test_air_that_stops_is_told_two_hours_before_the_ph_is_low(seed: int) -> None:
    found, crossed = told("air-stops", seed)
    assert crossed is not None
    assert next(at for alarm, _, at in found if alarm in FORETOLD) < crossed - 2 * HOUR_MS


BY_DAY = ("wide-swing", "buffer-running-out")


@pytest.mark.parametrize("name", ["air-stops", "cloudburst", "buffer-runs-out"])
def test_a_fall_is_foretold_once_and_the_limit_said_when_it_is_passed(name: str) -> None:
    found, crossed = told(name, 1)
    assert crossed is not None
    alarms = [(alarm, priority) for alarm, priority, at in found if at < crossed + 3 * HOUR_MS and alarm not in BY_DAY]
    assert len({alarm for alarm, _ in alarms if alarm in FORETOLD}) == 1
    assert [alarm for alarm, priority in alarms if priority == "high"][1:] == ["ph-low"]


@pytest.mark.parametrize("seed", [1, 2])
def test_acid_wakes_somebody_within_the_half_hour(seed: int) -> None:
    """A fall as fast as an instrument's step may be taken for one, but the limits still wake the keeper."""
    found, crossed = told("acid-overdose", seed)
    assert crossed is not None
    assert next(at for _, priority, at in found if priority == "high") < crossed + HOUR_MS / 2


@pytest.mark.parametrize("seed", [1, 2])
def test_a_probe_out_of_water_is_a_matter_of_the_probe(seed: int) -> None:
    alarms = {alarm for alarm, priority, _ in told("probe-out-of-water", seed)[0] if priority != "low"}
    assert alarms == {"probe-suspect"}


def test_a_broken_wire_is_a_silence() -> None:
    assert {alarm for alarm, _, _ in told("wire-breaks", 1)[0]} >= {"no-data"}
