"""The harder pond keeps its books and behaves as published ponds do; its processes are its own."""

from __future__ import annotations

import csv
from dataclasses import replace
from math import exp
from pathlib import Path
from random import Random
from statistics import mean, stdev

import pytest

from dawnline_simulator.hard_pond import events
from dawnline_simulator.hard_pond.advance import advance
from dawnline_simulator.hard_pond.beds import Beds
from dawnline_simulator.hard_pond.books import Flows, water_after
from dawnline_simulator.hard_pond.course import STEP_MS, Course, fill
from dawnline_simulator.hard_pond.electrode import Electrode, ElectrodeParameters
from dawnline_simulator.hard_pond.gas import oxygen_at_balance
from dawnline_simulator.hard_pond.life import Life
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import DAY_MS, HOUR_MS, HardClimate, Sky, Spells
from dawnline_simulator.hard_pond.state import PondState

BEGIN = 20_610 * DAY_MS  # 2026-06-06, midnight UTC
MG_OXYGEN = 0.031998
POND = HardPond(longitude=0.0)
BARREN = replace(
    POND, fish_kg=0.0, feed_g_day=0.0, plankton_per_day=0.0, plankton_loss_per_day=0.0, plankton_crowding=0.0,
    walls_umol_m2_h=0.0, film_per_day=0.0, sediment_per_day=0.0, labile_per_hour=0.0, nitrification_umol_l_h=0.0,
    denitrification_umol_m2_h=0.0, diffuser_per_hour=2.0,
)  # fmt: skip
STORY = (
    events.WaterChange(BEGIN + DAY_MS, BEGIN + DAY_MS + HOUR_MS),
    events.Cloudburst(BEGIN + 2 * DAY_MS, BEGIN + 2 * DAY_MS + 2 * HOUR_MS),
    events.FilterCleaned(BEGIN + 2 * DAY_MS + 6 * HOUR_MS, BEGIN + 3 * DAY_MS),
    events.AcidSpill(BEGIN + 3 * DAY_MS, BEGIN + 3 * DAY_MS + HOUR_MS, dose=100.0),
    events.DieOff(BEGIN + 4 * DAY_MS, BEGIN + 4 * DAY_MS + 12 * HOUR_MS),
    events.FishAdded(BEGIN + 4 * DAY_MS, BEGIN + 5 * DAY_MS),
    events.AirStops(BEGIN + 5 * DAY_MS, BEGIN + 5 * DAY_MS + 6 * HOUR_MS, power_cut=True),
)


def states(days, alkalinity=900.0, pond=POND, seed=1, happenings=(), climate=None, begin=BEGIN):
    """Time and state every step."""
    course = Course(pond, climate or HardClimate(), Random(f"{seed}"), begin, days=days, events=happenings)
    state, rows = course.start(alkalinity), []
    for at in range(begin, begin + days * DAY_MS, STEP_MS):
        rows.append((at, state))
        state = course.follow(state, at)
    return rows


def days_of(rows, first=0):
    by_day = {}
    for at, state in rows:
        by_day.setdefault((at - BEGIN) // DAY_MS, []).append((at % DAY_MS / HOUR_MS, state))
    return [day for number, day in by_day.items() if number >= first]


@pytest.fixture(scope="module")
def ordinary():
    return {seed: states(9, seed=seed) for seed in (1, 2)}


def test_ph_is_lowest_about_dawn_and_highest_in_the_late_afternoon(ordinary):
    hits = []
    for rows in ordinary.values():
        for day in days_of(rows, first=3):
            low = min(day, key=lambda row: row[1].surface.ph)[0]
            high = max(day, key=lambda row: row[1].surface.ph)[0]
            hits.append(2.0 <= low <= 7.5 and 13.0 <= high <= 19.0)
    # Not every day: under a closing sky it falls all day long.
    assert mean(hits) >= 0.7


def test_it_falls_through_every_calm_night(ordinary):
    for rows in ordinary.values():
        ph = {at: state.surface.ph for at, state in rows}
        falls = [ph[BEGIN + d * DAY_MS - 4 * HOUR_MS] - ph[BEGIN + d * DAY_MS + 4 * HOUR_MS] for d in range(3, 9)]
        assert min(falls) > 0.0


def carbon_mol(state: PondState, surface_l: float, bottom_l: float) -> float:
    """All carbon in water and beds [mol]; the fish and their feed count as outside."""
    water = sum(
        litres * (layer.dic + layer.plankton + layer.labile)
        for layer, litres in ((state.surface, surface_l), (state.bottom, bottom_l))
    )
    return water * 1e-6 + state.film + state.sediment + state.walls


def charge_eq(state: PondState, surface_l: float, bottom_l: float) -> float:
    """Alkalinity less ammonium plus nitrate less calcium [eq]: only what crosses the border changes it.

    The explicit conservative form of alkalinity, Wolf-Gladrow et al. (2007), Marine Chemistry 106, 287 (from
    memory): nitrification and shell move terms within it.
    """
    total = sum(
        litres * (layer.alkalinity - layer.ammonia + layer.nitrate - 2.0 * layer.calcium)
        for layer, litres in ((state.surface, surface_l), (state.bottom, bottom_l))
    )
    return total * 1e-6


@pytest.mark.parametrize("happenings", [(), STORY])
def test_the_books_of_carbon_and_charge_close(happenings):
    pond = replace(POND, shell_m2=4.0)
    rows = states(7, pond=pond, happenings=happenings)
    litres = (pond.surface_litres, pond.bottom_litres)
    (_, first), (_, last) = rows[0], rows[-1]
    assert carbon_mol(last, *litres) - carbon_mol(first, *litres) == pytest.approx(last.carbon_in, abs=1e-9)
    assert charge_eq(last, *litres) - charge_eq(first, *litres) == pytest.approx(last.charge_in, abs=1e-9)
    assert abs(last.charge_in) + abs(last.carbon_in) > 0.01  # and not because nothing happened


@pytest.mark.parametrize(("nitrified", "denitrified", "gives"), [(0.0, 0.0, 1.0), (1.0, 0.0, -1.0), (1.0, 1.0, 0.0)])
def test_a_mole_of_the_feeds_nitrogen_gives_or_takes_by_where_it_ends(nitrified, denitrified, gives):
    state = fill(BARREN, 900.0, 7.4, 15.0, plankton=0.0)
    fish, still = Life(0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0), Life(*(0.0,) * 7)
    bed = Beds(0.0, 0.0, 0.0, nitrified, denitrified, 0.0)
    _, after = water_after(state, Flows(still, fish, bed, (0.0, 0.0), (0.0, 0.0), 0.0, 0.0), Push(), BARREN, 1.0)
    assert after.alkalinity - state.bottom.alkalinity == pytest.approx(gives)


def test_what_the_feed_brings_costs_the_buffer_as_published():
    # 0.15 to 0.25 kg of sodium bicarbonate (84 g/eq) per kg of feed, Timmons and Ebeling (from memory); half to twice.
    pond = replace(POND, denitrification_umol_m2_h=0.0)
    rows = states(10, alkalinity=1500.0, pond=pond)
    one, two = rows[4 * 720][1], rows[-1][1]
    lost_eq = (one.surface.alkalinity - two.surface.alkalinity) * 1e-6 * pond.volume_litres
    feed_kg = 6 * pond.feed_g_day / 1000.0
    assert 0.5 * 0.15 < lost_eq * 0.084 / feed_kg < 2.0 * 0.25


def test_swings_are_those_of_published_ponds():
    # Public sonde records of small soft waters: daily swings of 0.15 to 2.3 (Fortino, watershed_metabolism, CC-BY).
    swings = []
    for seed, (alkalinity, fish, walls) in enumerate([(2500, 12, 2e3), (900, 6, 15e3), (600, 3, 25e3)]):
        pond = replace(POND, fish_kg=float(fish), feed_g_day=13.0 * fish, walls_umol_m2_h=walls, shell_m2=3.0)
        for day in days_of(states(7, float(alkalinity), pond, seed), first=3):
            ph = [state.surface.ph for _, state in day]
            swings.append(max(ph) - min(ph))
    assert 0.05 < min(swings) < 0.3
    assert 0.8 < max(swings) < 2.6


def test_when_the_air_stops_oxygen_goes_before_ph_does():
    stop = BEGIN + 6 * DAY_MS - 4 * HOUR_MS
    pond = replace(POND, shelter=0.3, shell_m2=2.0)
    quiet = states(7, 650.0, pond)
    rows = states(7, 650.0, pond, happenings=[events.AirStops(stop, stop + 14 * HOUR_MS, power_cut=True)])
    after = [(at, s) for at, s in rows if at >= stop]
    gasping = next(at for at, s in after if s.surface.oxygen * MG_OXYGEN < 4.0)
    crash = [at for at, s in after if s.surface.ph < 6.5]
    assert not crash or gasping < crash[0]
    dawn = round((stop - BEGIN + 8 * HOUR_MS) / STEP_MS)
    assert rows[dawn][1].surface.ph < quiet[dawn][1].surface.ph - 0.1


def test_layers_part_by_day_and_meet_by_night_unless_stirred():
    still = replace(POND, diffuser_m_h=0.0, pump_m_h=0.0, diffuser_per_hour=0.0, shelter=0.3, depth_m=1.6)

    def partings(pond):
        rows = states(4, pond=pond, climate=HardClimate(clear_hours=1e6, dull_hours=1e-6, wind_m_s=1.0))
        apart = {at: s.surface.temperature_c - s.bottom.temperature_c for at, s in rows}
        return [[apart[BEGIN + d * DAY_MS + h * HOUR_MS] for d in range(2, 4)] for h in (15, 5)]

    afternoon, dawn = partings(still)
    assert min(afternoon) > 1.0
    assert max(dawn) < 0.3
    assert max(partings(POND)[0]) < min(afternoon)


def test_a_barren_bubbled_pond_comes_to_the_published_balance_with_air():
    with (Path(__file__).parents[1] / "reference" / "ph_at_air_equilibrium.csv").open(encoding="utf-8") as lines:
        next(lines)
        rows = list(csv.DictReader(lines))
    air = replace(BARREN, air_co2_uatm=10**-3.38 * 1e6)
    for row in rows:
        celsius, alkalinity = float(row["temperature_c"]), float(row["alkalinity_meq_l"])
        if alkalinity > 1.0:
            continue  # above, ion pairs tell; the water tests hold those rows
        state = fill(air, alkalinity * 1000.0, 7.0, celsius, plankton=0.0)._replace(walls=0.0)
        for _ in range(8 * 30):
            state = advance(state, Sky(0.0, 0.5, celsius, 3.0, 0.0), Push(), air, 1.0 / 30.0)
            warm = [layer._replace(temperature_c=celsius) for layer in state[:2]]
            state = state._replace(surface=warm[0], bottom=warm[1])
        assert state.surface.ph == pytest.approx(float(row["ph"]), abs=0.01), row


def test_oxygen_of_saturation_is_the_published_one():
    # Standard Methods 4500-O, after Benson and Krause (from memory): 14.62, 11.29, 9.09, 7.56 mg/L
    for celsius, published in ((0.0, 14.62), (10.0, 11.29), (20.0, 9.09), (30.0, 7.56)):
        assert oxygen_at_balance(celsius) * MG_OXYGEN == pytest.approx(published, abs=0.02)


def test_acid_takes_its_dose_of_alkalinity_and_a_change_brings_its_share():
    sky = Sky(0.0, 0.5, 15.0, 2.0, 0.0)
    acid = fill(BARREN, 1000.0, 7.5, 15.0, plankton=0.0)._replace(walls=0.0)
    for _ in range(30):
        acid = advance(acid, sky, Push(acid_ueq_l_h=200.0), BARREN, 1.0 / 30.0)
    kept = 0.6 * acid.surface.alkalinity + 0.4 * acid.bottom.alkalinity
    assert kept == pytest.approx(1000.0 - 200.0 * 0.6, abs=1e-6)
    change = events.WaterChange(BEGIN, BEGIN + HOUR_MS, share=0.3, alkalinity=0.0)
    last = states(1, 1000.0, BARREN, happenings=[change], climate=HardClimate(wet_share=0.0))[-1][1]
    exact = 1000.0 * (1.0 - 0.6 * (1.0 - exp(-0.3)))  # poured into the upper 0.6, were it not mixed meanwhile
    assert last.surface.alkalinity == pytest.approx(exact, abs=15.0)


def test_plankton_that_dies_takes_oxygen_and_ph_with_it():
    pond = replace(POND, plankton_crowding=0.0008, fish_kg=6.0, feed_g_day=80.0)
    at = BEGIN + 4 * DAY_MS + 12 * HOUR_MS
    quiet, dead = (
        states(6, 700.0, pond, happenings=happenings)
        for happenings in ((), (events.DieOff(at, at + 12 * HOUR_MS, per_hour=0.3),))
    )
    dawn = round((5 * DAY_MS + 4 * HOUR_MS) / STEP_MS)
    assert dead[dawn][1].surface.oxygen < quiet[dawn][1].surface.oxygen - 30.0
    assert dead[dawn][1].surface.ph < quiet[dawn][1].surface.ph - 0.1


def test_a_bloom_in_soft_water_drives_dusk_to_nine_and_more():
    pond = replace(POND, fish_kg=4.0, feed_g_day=50.0, shade=0.0, walls_umol_m2_h=20_000.0, diffuser_per_hour=0.04)
    bloom = events.Bloom(BEGIN + 1 * DAY_MS, BEGIN + 9 * DAY_MS, times=3.0)
    rows = states(7, 700.0, pond, happenings=[bloom], climate=HardClimate(clear_hours=1e6, dull_hours=1e-6))
    assert max(state.surface.ph for _, state in rows) > 9.0


def test_the_same_seed_gives_the_same_series():
    one, same, other = states(2, seed=1), states(2, seed=1), states(2, seed=2)
    assert one == same
    assert one != other


def test_a_longer_forecast_of_the_sky_has_the_shorter_one_for_its_beginning():
    short, long = (Spells(HardClimate(), Random("s"), BEGIN, days, latitude=48.0, longitude=8.0) for days in (2, 9))
    assert all(short.at(BEGIN + h * HOUR_MS) == long.at(BEGIN + h * HOUR_MS) for h in range(47))


def test_cloud_comes_in_spells():
    sky = Spells(HardClimate(), Random("s"), BEGIN, 200, latitude=48.0, longitude=8.0)
    cloud = [sky.at(BEGIN + h * HOUR_MS).cloud for h in range(200 * 24)]
    centred = [c - mean(cloud) for c in cloud]
    a_day_apart = sum(a * b for a, b in zip(centred, centred[12:], strict=False)) / sum(c * c for c in centred)
    assert a_day_apart > 0.5


PLAIN = ElectrodeParameters(wander_per_root_day=0.0, noise=0.0, spikes_per_day=0.0, resolution=1e-6)


def test_a_wrong_temperature_turns_the_electrode_about_seven():
    # Nernst: a pH of 9 at 20 degC read with 25 degC in mind is 7 + 2 x 293.15/298.15
    state = fill(POND, 800.0, 9.0, 20.0)
    shown = Electrode(replace(PLAIN, temperature_error_c=5.0), Random("e")).read(state, 60.0)
    assert shown == pytest.approx(7.0 + 2.0 * 293.15 / 298.15, abs=1e-4)


def test_fouling_makes_it_slow_until_it_is_cleaned():
    low, high = fill(POND, 800.0, 7.0, 20.0), fill(POND, 800.0, 8.0, 20.0)

    def after_a_minute(clean):
        probe = Electrode(replace(PLAIN, fouling_per_day=0.5), Random("e"))
        for _ in range(40):
            probe.read(low, 86_400.0)
        if clean:
            probe.clean()
        return probe.read(high, 60.0)

    assert after_a_minute(clean=False) < 7.2 < 7.8 < after_a_minute(clean=True)


def test_it_wanders_by_the_root_of_time_and_a_buffer_sets_it_right():
    state, found = fill(POND, 800.0, 7.0, 20.0), []
    for seed in range(400):
        probe = Electrode(replace(PLAIN, wander_per_root_day=0.02), Random(seed))
        for _ in range(9):
            probe.read(state, 86_400.0)
        found.append(probe.calibrate())
        assert probe.calibrate() == 0.0
    assert stdev(found) == pytest.approx(0.06, rel=0.15)
