"""Un-ionised ammonia and the EPA's marks beside published tables."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.water.ammonia import (
    tan_with_unionised,
    unionised_fraction,
    unionised_mg_l,
)
from dawnline.water.ammonia_criteria import acute_criterion, chronic_criterion

PH, CELSIUS = st.floats(4.0, 11.0), st.floats(0.0, 40.0)


def test_emerson_to_the_last_digit_printed(table):
    rows = table("ammonia_emerson.csv")
    assert len(rows) == 49
    for row in rows:
        ours = 100.0 * unionised_fraction(row["ph"], row["temperature_c"])
        assert ours == pytest.approx(row["percent"], rel=6e-4), row


def test_an_older_independent_table_within_its_own_rounding(table):
    for row in table("ammonia_trussell.csv"):
        ours = 100.0 * unionised_fraction(row["ph"], row["temperature_c"])
        assert ours == pytest.approx(row["percent"], rel=0.03), row


def test_epa_criteria(table):
    rows = table("ammonia_epa_2013.csv")
    assert len(rows) >= 36
    for row in rows:
        ph, celsius = row["ph"], row["temperature_c"]
        ours = {
            "acute_salmonids_mussels": acute_criterion(ph, celsius, salmonids=True, mussels=True),
            "acute_mussels": acute_criterion(ph, celsius, mussels=True),
            "acute_fish": acute_criterion(ph, celsius),
            "chronic_mussels": chronic_criterion(ph, celsius, mussels=True),
            "chronic_young": chronic_criterion(ph, celsius),
            "chronic_grown": chronic_criterion(ph, celsius, young=False),
        }
        assert ours == pytest.approx({name: row[name] for name in ours}, rel=2e-3, abs=0.0051), row


def test_printed_anchors_of_the_criteria():
    assert f"{acute_criterion(7.0, 20.0, salmonids=True, mussels=True):.2g}" == "17"
    assert f"{chronic_criterion(7.0, 20.0, mussels=True):.2g}" == "1.9"


@pytest.mark.parametrize(
    ("tan", "ph", "celsius", "as_n", "as_nh3"),
    [(1.0, 8.0, 20, 0.03807, 0.04629), (0.5, 8.5, 25, 0.07603, 0.09244), (0.25, 7.5, 15, 0.00214, 0.0026),
     (2.0, 7.0, 10, 0.00371, 0.0045)],
)  # fmt: skip
def test_worked_values(tan, ph, celsius, as_n, as_nh3):
    ours = unionised_mg_l(tan, ph, celsius)
    assert ours == pytest.approx(as_n, rel=2e-3)
    assert ours * 17.0305 / 14.0067 == pytest.approx(as_nh3, rel=2e-3)


@settings(max_examples=60)
@given(st.floats(0.0, 50.0), PH, CELSIUS)
def test_total_and_unionised_go_there_and_back(tan, ph, celsius):
    assert tan_with_unionised(unionised_mg_l(tan, ph, celsius), ph, celsius) == pytest.approx(tan)


@settings(max_examples=60)
@given(st.floats(4.0, 10.9), st.floats(0.0, 39.0))
def test_more_of_it_is_poisonous_the_higher_and_the_warmer(ph, celsius):
    share = unionised_fraction(ph, celsius)
    assert 0.0 < share < unionised_fraction(ph + 0.1, celsius) < 1.0
    assert share < unionised_fraction(ph, celsius + 1.0)


@settings(max_examples=60)
@given(st.floats(6.5, 8.9), st.floats(0.0, 29.0))
def test_criteria_fall_with_ph_and_are_the_lower_the_more_live_there(ph, celsius):
    assert acute_criterion(ph + 0.1, celsius) < acute_criterion(ph, celsius)
    assert acute_criterion(ph, celsius, mussels=True) <= acute_criterion(ph, celsius)
    assert chronic_criterion(ph, celsius) <= chronic_criterion(ph, celsius, young=False) + 1e-12
    assert chronic_criterion(ph, celsius) < acute_criterion(ph, celsius)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: unionised_mg_l(-0.1, 7, 20), "tan_mg_l"),
        (lambda: unionised_mg_l(0.5, 71, 20), "ph"),
        (lambda: unionised_mg_l(0.5, 7, 68), "temperature_c"),
        (lambda: acute_criterion(7.0, 99.0), "temperature_c"),
    ],
)
def test_what_is_out_of_range_is_named(call, names):
    with pytest.raises(ValueError, match=names):
        call()
