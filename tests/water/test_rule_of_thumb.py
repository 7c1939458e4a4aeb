"""CO2 = 3 x KH x 10^(7 - pH) beside PHREEQC: what it is worth."""

from __future__ import annotations

import pytest

from dawnline.water.rule_of_thumb import co2_by_rule_of_thumb, co2_mg_l, rule_of_thumb_misses_by
from dawnline.water.units import dkh_from_meq_l


def test_true_co2_and_its_ratio_to_the_rule(table):
    rows = table("rule_of_thumb.csv")
    assert len(rows) == 75
    for row in rows:
        kh, ph, celsius = dkh_from_meq_l(row["alkalinity_meq_l"]), row["ph"], row["temperature_c"]
        assert co2_mg_l(kh, ph, celsius) == pytest.approx(row["co2_mg_l"], rel=0.004, abs=0.0006), row
        assert rule_of_thumb_misses_by(kh, ph, celsius) == pytest.approx(row["ratio"], rel=0.004), row


@pytest.mark.parametrize(("celsius", "low", "high"), [(25.0, 1.06, 1.15), (15.0, 1.24, 1.34), (5.0, 1.56, 1.68)])
def test_it_is_low_by_what_the_readme_and_the_docstring_say(table, celsius, low, high):
    rows = [row for row in table("rule_of_thumb.csv") if row["temperature_c"] == celsius and row["ph"] <= 7.5]
    ours = [rule_of_thumb_misses_by(dkh_from_meq_l(row["alkalinity_meq_l"]), row["ph"], celsius) for row in rows]
    assert (min(ours), max(ours)) == pytest.approx((low, high), abs=0.01)


def test_it_is_the_rule():
    assert co2_by_rule_of_thumb(5.0, 7.0) == 15.0
    assert co2_by_rule_of_thumb(5.0, 6.0) == pytest.approx(150.0)
    assert co2_by_rule_of_thumb(0.0, 6.0) == 0.0


@pytest.mark.parametrize("call", [co2_by_rule_of_thumb, lambda kh, ph: co2_mg_l(kh, ph, 15.0)])
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match=r"^kh_dkh: KH is not negative"):
        call(-1.0, 7.0)
    with pytest.raises(ValueError, match=r"^ph: a pH lies between 0 and 14"):
        call(4.0, 70.0)
