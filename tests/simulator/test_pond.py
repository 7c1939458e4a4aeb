"""The pond keeps its books, and with nothing alive in it agrees with the published balance with air."""

from __future__ import annotations

import csv
from dataclasses import replace
from math import exp
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.water.carbonate import ph_from_co2
from dawnline_simulator.pond import Forcing, PondParameters, Rates, fill, step
from dawnline_simulator.processes import dissolution, exchange, nitrification, photosynthesis, rates

MINUTE = 1.0 / 60.0
NOTHING = PondParameters(
    exchange_per_hour=0.0,
    aeration_per_hour=0.0,
    wind_per_hour=0.0,
    respiration_umol_l_h=0.0,
    algae_respiration_umol_l_h=0.0,
    photosynthesis_umol_l_h=0.0,
    feed_g_day=0.0,
    nitrification_mg_l_day=0.0,
    shell_m2=0.0,
)
NIGHT = Forcing(light_w_m2=0.0, air_c=15.0, wind_m_s=0.0)
NOON = Forcing(light_w_m2=800.0, air_c=22.0, wind_m_s=2.0)


def run(state, forcing, parameters, hours):
    for _ in range(round(hours * 60)):
        state = step(state, rates(state, forcing, parameters), parameters, MINUTE)
    return state


def test_a_pond_where_nothing_happens_stays_as_it_is():
    before = fill(0.8, 7.3, 15.0)
    after = run(before, NIGHT, NOTHING, 24)
    assert after == pytest.approx(before, abs=1e-9)


def test_in_balance_with_air_the_pond_agrees_with_phreeqc():
    with (Path(__file__).parents[1] / "reference" / "ph_at_air_equilibrium.csv").open(encoding="utf-8") as lines:
        next(lines)
        rows = list(csv.DictReader(lines))
    bubbling = replace(NOTHING, aeration_per_hour=2.0, air_co2_uatm=10**-3.38 * 1e6)
    for row in rows:
        celsius, alkalinity = float(row["temperature_c"]), float(row["alkalinity_meq_l"])
        if alkalinity > 1.0:
            continue  # above, ion pairs tell; the water tests hold those rows
        air = NIGHT._replace(air_c=celsius)
        settled = run(fill(alkalinity, 7.0, celsius), air, bubbling, 8)
        assert settled.ph == pytest.approx(float(row["ph"]), abs=0.007), row
        assert settled.co2_umol_l * 44.0095 / 1000 == pytest.approx(float(row["co2_mg_l"]), abs=0.004)
        assert settled.alkalinity_meq_l == pytest.approx(alkalinity, abs=1e-12)


def test_breathing_and_gas_exchange_leave_alkalinity_alone():
    alive = replace(PondParameters(), feed_g_day=0.0, nitrification_mg_l_day=0.0, shell_m2=0.0)
    start = fill(0.8, 7.3, 17.0)
    for forcing in (NIGHT, NOON):
        assert run(start, forcing, alive, 6).alkalinity_meq_l == pytest.approx(0.8, abs=1e-12)
    assert run(start, NIGHT._replace(aeration=0.0), alive, 6).ph < start.ph
    assert run(start, NOON, alive, 6).ph > start.ph


def test_nitrification_takes_two_equivalents_a_mole_of_nitrogen():
    # 7.14 mg CaCO3, 0.1428 meq, per mg of N: Ebeling, Timmons and Bisogni 2006, stoichiometry
    filter_only = replace(NOTHING, nitrification_mg_l_day=3.0)
    before = fill(1.0, 7.3, 20.0)._replace(ammonia_mg_l=1.0)
    after = run(before, NIGHT._replace(air_c=20.0), filter_only, 12)
    oxidised = before.ammonia_mg_l - after.ammonia_mg_l
    assert oxidised > 0.3
    assert before.alkalinity_meq_l - after.alkalinity_meq_l == pytest.approx(0.1428 * oxidised, rel=1e-3)
    assert after.dic_umol_l == pytest.approx(before.dic_umol_l)


@pytest.mark.parametrize(("filter_mg_l_day", "ends"), [(0.0, "ammonia"), (60.0, "nitrate")])
def test_what_a_mole_of_the_feeds_nitrogen_does_to_alkalinity(filter_mg_l_day, ends):
    # explicit conservative form of alkalinity, Wolf-Gladrow et al. (2007), Marine Chemistry 106, 287, from memory:
    # + ammonium - nitrate; ammonia that stays gives 1 eq a mole of nitrogen, all the way to nitrate it takes 1
    fed = replace(NOTHING, feed_g_day=260.0, nitrification_mg_l_day=filter_mg_l_day)
    before = fill(1.0, 7.3, 20.0)._replace(ammonia_mg_l=0.0)
    after = run(before, NIGHT._replace(air_c=20.0), fed, 48)
    given = 2.0 * 260.0 * 0.38 * 0.092 / 14.0067 / 14.0  # mmol/L in two days
    ammonium = after.ammonia_mg_l / 14.0067
    assert ammonium / given == pytest.approx(1.0 if ends == "ammonia" else 0.0, abs=0.01)
    assert after.alkalinity_meq_l - before.alkalinity_meq_l == pytest.approx(2.0 * ammonium - given, abs=1e-9)


def test_shell_gives_two_equivalents_one_carbon_and_one_calcium():
    shell_only = replace(NOTHING, shell_m2=20.0)
    before = fill(0.3, 6.8, 15.0)
    after = run(before, NIGHT, shell_only, 48)
    calcium = (after.calcium_mmol_l - before.calcium_mmol_l) * 1000
    assert calcium > 20.0
    assert (after.alkalinity_meq_l - before.alkalinity_meq_l) * 1000 == pytest.approx(2 * calcium)
    assert after.dic_umol_l - before.dic_umol_l == pytest.approx(calcium)


def test_rain_dilutes_as_overflow_does():
    # continuous overflow: A exp(-r/d) for rain without alkalinity
    pond = replace(NOTHING, catchment_m2=0.0, rain_alkalinity_meq_l=0.0)
    before = fill(1.0, 7.3, 15.0)
    after = run(before, NIGHT._replace(rain_mm_h=25.0), pond, 2)
    share = exp(-50.0 * 12.0 / 14_000.0)
    assert after.alkalinity_meq_l == pytest.approx(share, rel=1e-4)
    assert after.calcium_mmol_l == pytest.approx(0.5 * share, rel=1e-4)


def test_acid_may_overrun_the_buffer():
    before = fill(0.5, 7.3, 15.0)
    after = run(before, NIGHT._replace(acid_meq_l_h=0.6), NOTHING, 1)
    assert after.alkalinity_meq_l == pytest.approx(-0.1)
    # 0.1 meq/L of strong acid is left beside CO2: [H+] = 1e-4
    assert after.ph == pytest.approx(4.02, abs=0.02)
    assert after.dic_umol_l == pytest.approx(before.dic_umol_l)


@settings(max_examples=60)
@given(
    st.tuples(*[st.floats(0.0, 20.0)] * 4),
    st.floats(-30.0, 30.0),
    st.floats(0.0, 0.1),
    st.floats(0.0, 0.2),
    st.floats(0.0, 0.5),
)
def test_what_one_account_loses_another_gains(flows, air, nitrogen, spill, acid):
    uptake, breath, decay, shell = flows
    pond = PondParameters()
    before = fill(1.0, 7.4, 18.0)._replace(labile_umol_l=50.0, ammonia_mg_l=0.5)
    taken = Rates(uptake, breath, decay, air, 0.02, nitrogen, shell, spill, 100.0, acid, 0.0)
    after = step(before, taken, pond, 0.5)
    alkalinity = 0.5 * (
        shell * 2e-3
        + (0.02 - nitrogen * 2) / 14.0067
        - acid
        + spill * (pond.rain_alkalinity_meq_l - before.alkalinity_meq_l)
    )
    assert after.alkalinity_meq_l - before.alkalinity_meq_l == pytest.approx(alkalinity, abs=1e-9)
    carbon_before = before.dic_umol_l + before.labile_umol_l
    carbon_after = after.dic_umol_l + after.labile_umol_l
    moved = breath - uptake + air + shell + spill * (17.0 + 100.0 - carbon_before)
    assert carbon_after - carbon_before == pytest.approx(0.5 * moved, abs=1e-6)


def test_half_the_step_gives_the_same_day():
    pond, coarse, fine = PondParameters(), fill(0.9, 7.4, 17.0), fill(0.9, 7.4, 17.0)
    for hour in range(24):
        forcing = NOON if 6 <= hour < 18 else NIGHT
        for _ in range(60):
            coarse = step(coarse, rates(coarse, forcing, pond), pond, MINUTE)
        for _ in range(240):
            fine = step(fine, rates(fine, forcing, pond), pond, MINUTE / 4)
    assert coarse.ph == pytest.approx(fine.ph, abs=0.002)
    assert coarse.alkalinity_meq_l == pytest.approx(fine.alkalinity_meq_l, abs=1e-4)


def test_ph_and_co2_belong_to_the_state():
    after = run(fill(0.9, 7.4, 17.0), NOON, PondParameters(), 5)
    strength = 3.0 * after.calcium_mmol_l / 1000
    ph = ph_from_co2(after.alkalinity_meq_l, after.co2_umol_l, after.temperature_c, strength)
    assert after.ph == pytest.approx(ph, abs=1e-6)


def test_the_filter_slows_in_acid_in_cold_and_without_buffer():
    pond = PondParameters()
    well = fill(1.0, 7.4, 20.0)._replace(ammonia_mg_l=0.5)
    usual = nitrification(well, pond)
    assert nitrification(well._replace(ph=6.2), pond) < 0.6 * usual
    assert nitrification(well._replace(temperature_c=8.0), pond) < 0.6 * usual
    assert nitrification(well._replace(alkalinity_meq_l=0.005), pond) < 0.6 * usual
    assert nitrification(well._replace(alkalinity_meq_l=-0.1), pond) == 0.0


def test_shell_dissolves_faster_in_sour_water_and_not_in_saturated():
    pond = PondParameters()
    sour, sweet = fill(0.3, 5.6, 15.0), fill(0.3, 7.5, 15.0)
    assert dissolution(sour, pond) > 1.5 * dissolution(sweet, pond)
    assert dissolution(fill(4.0, 8.5, 20.0), pond) == 0.0


def test_air_goes_both_ways_and_algae_need_light_and_carbon():
    pond = PondParameters()
    night, late = fill(1.0, 7.3, 18.0), fill(1.0, 9.2, 18.0)
    assert exchange(night, NIGHT, pond) < 0.0 < exchange(late, NIGHT, pond)
    assert exchange(night, NIGHT._replace(aeration=0.0), pond) > exchange(night, NIGHT, pond)
    assert photosynthesis(night, NIGHT, pond) == 0.0
    assert photosynthesis(night, NOON, pond) > photosynthesis(late, NOON, pond) > 0.0


def test_water_colder_than_ice_does_not_stop_the_story():
    frozen = run(fill(1.0, 7.4, 0.5), NIGHT._replace(air_c=-25.0), PondParameters(), 12)
    assert frozen.temperature_c < 0.0
    assert 6.0 < frozen.ph < 9.0
