"""How fast shell dissolves: a range, and where it ends. The published rate itself is held against PHREEQC's."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.water.calcite import calcite_saturation_index
from dawnline.water.dissolution import (
    alkalinity_gain_meq_l_day,
    clean_rate,
    dissolution_rate,
    dissolvable_mmol_l,
)
from dawnline.water.equilibrium import equilibrium


@given(st.floats(0.1, 4.0), st.floats(6.0, 9.5), st.floats(0.0, 30.0))
def test_shell_dissolves_where_the_index_is_below_zero_and_nowhere_else(alkalinity, ph, celsius):
    rate = dissolution_rate(alkalinity, ph, celsius)
    if calcite_saturation_index(alkalinity, ph, celsius) < -0.01:
        assert 0.0 < rate.lowest < rate.highest
        assert rate.lowest < rate.clean
    elif calcite_saturation_index(alkalinity, ph, celsius) >= 0.0:
        assert rate == (0.0, 0.0, 0.0)


def test_the_range_is_honest_about_a_factor_of_ten():
    for alkalinity, ph in ((0.25, 6.5), (1.0, 7.0), (2.0, 7.3)):
        rate = dissolution_rate(alkalinity, ph, 15.0)
        assert rate.highest > 9.0 * rate.lowest


def test_sourer_water_dissolves_more_and_harder_water_less():
    rates = [dissolution_rate(1.0, ph, 15.0) for ph in (6.0, 6.5, 7.0, 7.5, 8.0)]
    assert rates == sorted(rates, reverse=True)
    assert dissolution_rate(1.0, 7.5, 15.0, calcium_mmol_l=3.0) < dissolution_rate(1.0, 7.5, 15.0)


def test_the_clean_rate_is_the_published_one(table):
    rows = table("calcite_rate.csv")
    assert len(rows) == 20
    for row in rows:
        alkalinity = row["alkalinity_meq_l"]
        water = equilibrium(
            row["temperature_c"], ph=row["ph"], alkalinity_meq_l=alkalinity, calcium_mmol_l=alkalinity / 2
        )
        assert clean_rate(water) == pytest.approx(row["rate_mmol_m2_d"], rel=0.01), row


def test_surface_and_film_stand_in_each_others_way():
    water = equilibrium(15.0, ph=5.0, alkalinity_meq_l=0.1, calcium_mmol_l=0.05)
    rate = dissolution_rate(0.1, 5.0, 15.0)
    carried = 0.8e-9 / 1e-3 * dissolvable_mmol_l(water) * 1000.0 * 86400.0  # Fick, through a millimetre
    assert 1.0 / rate.lowest == pytest.approx(1.0 / (0.1 * rate.clean) + 1.0 / carried)
    assert 1.0 / rate.highest == pytest.approx(1.0 / (3.0 * rate.clean) + 1.0 / (10.0 * carried))


def test_far_from_saturation_the_rate_is_the_forward_one():
    # Plummer, Wigley and Parkhurst 1978 at 25 degC, near pH 7 without CO2: k3 = 10^-6.92 mmol/(cm2 s)
    water = equilibrium(25.0, ph=7.0, alkalinity_meq_l=0.001, calcium_mmol_l=0.0005)
    assert clean_rate(water) == pytest.approx(10**-6.92 * 1e4 * 86400.0, rel=0.1)


def test_dissolving_what_can_be_dissolved_saturates():
    water = equilibrium(15.0, ph=7.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.5)
    room = dissolvable_mmol_l(water)
    after = equilibrium(
        15.0,
        alkalinity_meq_l=1.0 + 2.0 * room,
        dic_umol_l=water.dic_umol_l + 1000.0 * room,
        calcium_mmol_l=0.5 + room,
    )
    assert calcite_saturation_index(after.alkalinity_meq_l, after.ph, 15.0, 0.5 + room) == pytest.approx(0.0, abs=0.005)
    assert dissolvable_mmol_l(after._replace(alkalinity_meq_l=after.alkalinity_meq_l + 0.1)) == 0.0


def test_without_calcium_there_is_most_room():
    none = equilibrium(15.0, ph=7.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.0)
    some = equilibrium(15.0, ph=7.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.5)
    assert dissolvable_mmol_l(none) > dissolvable_mmol_l(some) > 0.0
    assert clean_rate(none) > clean_rate(some)


def test_a_pond_gains_two_equivalents_a_mole():
    # 100 mmol/(m2 d) on 5 m2 in 10 m3: 500 mmol CaCO3, 1000 meq in 10000 L
    assert alkalinity_gain_meq_l_day(100.0, 5.0, 10000.0) == pytest.approx(0.1)
    with pytest.raises(ValueError, match=r"^volume_l: a pond has a volume above 0 litres, found 0.0; "):
        alkalinity_gain_meq_l_day(100.0, 5.0, 0.0)
    with pytest.raises(ValueError, match=r"^area_m2: the area of shell is not negative"):
        alkalinity_gain_meq_l_day(100.0, -5.0, 10000.0)
