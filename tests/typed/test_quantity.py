"""Every unit and number form that a person may type: accepted with its exact value, or refused with what to write."""

from __future__ import annotations

import re
from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dawnline.errors import InputError
from dawnline.typed.measure import Measure, Unit, spelled
from dawnline.typed.measures import (
    ALKALINITY,
    AMMONIA,
    DEPTH,
    FEED_RATE,
    HARDNESS,
    LENGTH,
    LIQUID,
    MASS,
    MEASURES,
    NITRATE,
    NITRITE,
    OXYGEN,
    PERCENT,
    PH,
    SHARE,
    TAN,
    TEMPERATURE,
    VOLUME,
)
from dawnline.typed.quantity import parse, show

LB, GAL, IMP_GAL = 453.59237, 3.785411784, 4.54609
MEQ, PPM = 2.80387, 0.05602871  # dKH in one

ACCEPTED: list[tuple[Measure, str, float]] = [
    (ALKALINITY, "6 drops", 6.0),
    (ALKALINITY, "1 drop", 1.0),
    (ALKALINITY, "6 Tropfen", 6.0),
    (ALKALINITY, "0 drops", 0.0),
    (ALKALINITY, "6dKH", 6.0),
    (ALKALINITY, "6 dKH", 6.0),
    (ALKALINITY, "6 °dKH", 6.0),
    (ALKALINITY, "6 °dH", 6.0),
    (ALKALINITY, "6 KH", 6.0),
    (ALKALINITY, "6 deg KH", 6.0),
    (ALKALINITY, "6 degrees KH", 6.0),
    (ALKALINITY, "6,5 dkh", 6.5),
    (ALKALINITY, "2.1 meq/L", 2.1 * MEQ),
    (ALKALINITY, "2,1 meq/l", 2.1 * MEQ),
    (ALKALINITY, "2,1 mval/l", 2.1 * MEQ),
    (ALKALINITY, "107 ppm", 107 * PPM),
    (ALKALINITY, "107ppm", 107 * PPM),
    (ALKALINITY, "107 mg/L", 107 * PPM),
    (ALKALINITY, "107 mg/L as CaCO3", 107 * PPM),
    (ALKALINITY, "107 mg/l CaCO₃", 107 * PPM),
    (ALKALINITY, "107 mg per litre as CaCO3", 107 * PPM),
    (ALKALINITY, "130 mg/L HCO3-", 130 / 61.0168 * MEQ),
    (ALKALINITY, "10.7 °fH", 10.7 * 10 * PPM),
    (ALKALINITY, "7.5 eH", 7.5 * 64.79891 / IMP_GAL * PPM),
    (ALKALINITY, "7.5 Clark", 7.5 * 64.79891 / IMP_GAL * PPM),
    (ALKALINITY, "6 gpg", 6 * 64.79891 / GAL * PPM),
    (HARDNESS, "8 drops", 8.0),
    (HARDNESS, "8 dGH", 8.0),
    (HARDNESS, "8°dH", 8.0),
    (HARDNESS, "8 GH", 8.0),
    (HARDNESS, "143 ppm", 143 * PPM),
    (HARDNESS, "1,4 mmol/l", 1.4 * 2 * MEQ),
    (HARDNESS, "40 mg/L Ca", 40 * 2 / 40.078 * MEQ),
    (HARDNESS, "14 fH", 140 * PPM),
    (PH, "7.4", 7.4),
    (PH, "7,4", 7.4),
    (PH, "pH 7.4", 7.4),
    (PH, "pH=7.4", 7.4),
    (PH, "7.4 pH", 7.4),
    (TEMPERATURE, "68F", 20.0),
    (TEMPERATURE, "68 °F", 20.0),
    (TEMPERATURE, "68 deg F", 20.0),
    (TEMPERATURE, "18.5 C", 18.5),
    (TEMPERATURE, "18,5°C", 18.5),
    (TEMPERATURE, "18.5 degC", 18.5),
    (TEMPERATURE, "18.5 degrees Celsius", 18.5),
    (TEMPERATURE, "18.5 ℃", 18.5),
    (TEMPERATURE, "-0.5 C", -0.5),
    (TEMPERATURE, "\u22120.5 C", -0.5),
    (AMMONIA, "0.5 mg/L N", 0.5),
    (AMMONIA, "0.5 mg/L as N", 0.5),
    (AMMONIA, "0.5 ppm NH3-N", 0.5),
    (AMMONIA, "0.5 mg/L TAN", 0.5),
    (AMMONIA, "0,5 mg/l NH4", 0.5 * 14.007 / 18.039),
    (AMMONIA, "0.5 ppm NH4+", 0.5 * 14.007 / 18.039),
    (AMMONIA, "0.5 mg/L NH3", 0.5 * 14.007 / 17.031),
    (TAN, "0.4 mg/L", 0.4),
    (TAN, "0.4 ppm", 0.4),
    (NITRITE, "0.3 mg/L NO2", 0.3),
    (NITRITE, "0.3 ppm NO2-", 0.3),
    (NITRITE, "0.1 mg/L NO2-N", 0.1 * 46.005 / 14.007),
    (NITRATE, "20 mg/L NO3", 20.0),
    (NITRATE, "5 ppm N", 5 * 62.004 / 14.007),
    (OXYGEN, "8.2 mg/L", 8.2),
    (OXYGEN, "8,2 ppm", 8.2),
    (VOLUME, "300 gal", 300 * GAL),
    (VOLUME, "300 gallons", 300 * GAL),
    (VOLUME, "300 US gal", 300 * GAL),
    (VOLUME, "300 U.S. gal.", 300 * GAL),
    (VOLUME, "300 imp gal", 300 * IMP_GAL),
    (VOLUME, "300 imperial gallons", 300 * IMP_GAL),
    (VOLUME, "300 UK gallons", 300 * IMP_GAL),
    (VOLUME, "1100 L", 1100.0),
    (VOLUME, "1100 litres", 1100.0),
    (VOLUME, "1 100 liters", 1100.0),
    (VOLUME, "1,5 m3", 1500.0),
    (VOLUME, "1.5 m³", 1500.0),
    (VOLUME, "2 cbm", 2000.0),
    (VOLUME, "10 cu ft", 283.16846592),
    (VOLUME, "250 ml", 0.25),
    (VOLUME, "1/4 cup", GAL / 64),
    (VOLUME, "¼ cup", GAL / 64),
    (VOLUME, "1 1/2 cups", GAL / 16 * 1.5),
    (VOLUME, "1 metric cup", 0.25),
    (VOLUME, "2 fl oz", GAL / 64),
    (VOLUME, "2 fl. oz.", GAL / 64),
    (VOLUME, "2 imp fl oz", IMP_GAL / 80),
    (VOLUME, "1 qt", GAL / 4),
    (VOLUME, "1 pint", GAL / 8),
    (VOLUME, "1 imp pint", IMP_GAL / 8),
    (VOLUME, "3 tsp", GAL / 256),
    (VOLUME, "1 tbsp", GAL / 256),
    (MASS, "200 g", 200.0),
    (MASS, "200 grams", 200.0),
    (MASS, "5 kg", 5000.0),
    (MASS, "10 lb", 10 * LB),
    (MASS, "10 lbs", 10 * LB),
    (MASS, "10 pounds", 10 * LB),
    (MASS, "8 oz", LB / 2),
    (MASS, "0.5 t", 500_000.0),
    (FEED_RATE, "120 g/day", 120.0),
    (FEED_RATE, "120 g a day", 120.0),
    (FEED_RATE, "120 g per day", 120.0),
    (FEED_RATE, "120 g/d", 120.0),
    (FEED_RATE, "4 oz/day", LB / 4),
    (FEED_RATE, "0 g/day", 0.0),
    (DEPTH, "20 mm", 20.0),
    (DEPTH, "20mm", 20.0),
    (DEPTH, "2 cm", 20.0),
    (DEPTH, "20 l/m2", 20.0),
    (DEPTH, "0.8 in", 20.32),
    (DEPTH, "0.8 inches", 20.32),
    (DEPTH, '0.8"', 20.32),
    (LENGTH, "45 cm", 45.0),
    (LENGTH, "18 in", 45.72),
    (LENGTH, "0.45 m", 45.0),
    (LENGTH, "1.5 ft", 45.72),
    (SHARE, "15%", 0.15),
    (SHARE, "15 %", 0.15),
    (SHARE, "12,5 percent", 0.125),
    (PERCENT, "38%", 38.0),
    (PERCENT, "38", 38.0),
]

REFUSED: list[tuple[Measure, str, str]] = [
    (ALKALINITY, "6", '\'6\' without a unit: write "6 drops" as the kit counts, "6 dKH"'),
    (ALKALINITY, "6°", '"6 dKH" (German)'),
    (ALKALINITY, "6 degrees", '"6 fH" (French)'),
    (ALKALINITY, "6.5 drops", "drops are counted whole"),
    (ALKALINITY, "-1 drops", "drops are counted whole"),
    (ALKALINITY, "3 mmol/l", '"3 meq/L" where a laboratory'),
    (ALKALINITY, "6 dGH", "it does not follow from the GH"),
    (ALKALINITY, "68F", "which is a temperature"),
    (ALKALINITY, "6 lb", "which is a mass"),
    (ALKALINITY, "5-6 dKH", "a range or a bound"),
    (ALKALINITY, "5 to 6 drops", "a range or a bound"),
    (ALKALINITY, "~6 dKH", "a range or a bound"),
    (ALKALINITY, "6 ± 1 dKH", "a range or a bound"),
    (ALKALINITY, "six drops", "such as 6 drops, 6 dKH, 107 ppm or 2.1 meq/L"),
    (ALKALINITY, "", "such as 6 drops"),
    (ALKALINITY, "6 dKHH", "did you mean 'dKH'?"),
    (HARDNESS, "8", "without a unit"),
    (HARDNESS, "8 dKH", "it does not follow from the KH"),
    (PH, "7.4 drops", "not counted in drops"),
    (PH, "<6", "a range or a bound"),
    (PH, "acid", "a pH such as 7.4"),
    (PH, "7/8", "two figures or a fraction"),
    (ALKALINITY, "6/7 dKH", "write the one figure read"),
    (ALKALINITY, "6/7 drops", "two figures or a fraction"),
    (TEMPERATURE, "18/19 C", "two figures or a fraction"),
    (TEMPERATURE, "18", '"18 C" or "18 F"'),
    (TEMPERATURE, "18°", '"18 C" or "18 F"'),
    (TEMPERATURE, "291 K", "such as 18.5C or 65F"),
    (AMMONIA, "0.5 mg/L", '"0.5 mg/L N" or "0.5 mg/L NH4" or "0.5 mg/L NH3"'),
    (AMMONIA, "0.5", "without a unit"),
    (AMMONIA, "<0.1 mg/L N", "a range or a bound"),
    (TAN, "0.5 mg/L NH4", "tan is nitrogen"),
    (NITRITE, "0.3 ppm", '"0.3 mg/L NO2" or "0.3 mg/L N"'),
    (NITRATE, "20", "without a unit"),
    (OXYGEN, "80%", "in mg/L"),
    (VOLUME, "300", "without a unit: write a volume such as 300 gal"),
    (VOLUME, "3 galons", "did you mean 'gal'?"),
    (VOLUME, "1 kg", "which is a mass"),
    (VOLUME, "8 oz", '"8 fl oz" (a volume)'),
    (VOLUME, "2 buckets", "such as 10 L"),
    (VOLUME, "1,500 L", "may be 1500 or 1.5:"),
    (VOLUME, "14.000 L", "found '14.000', which may be 14000 or 14:"),
    (VOLUME, "1.234 gal", "may be 1234 or 1.2340:"),
    (LIQUID, "2.500 mL", "may be 2500 or 2.5:"),
    (VOLUME, "1e3 L", "unknown unit"),
    (MASS, "5", "without a unit: write a mass"),
    (MASS, "1/4 cup", "which is a volume"),
    (MASS, "1 ton", "tonnes"),
    (MASS, "5 gr", '"5 g"'),
    (MASS, "a bag", "such as 200 g"),
    (MASS, "1 bag", "the weight on the bag"),
    (FEED_RATE, "120 g", '"120 g/day"'),
    (FEED_RATE, "120", "without a unit"),
    (FEED_RATE, "2 cups", "what it weighs"),
    (DEPTH, "20", "such as 20 mm or 0.8 in"),
    (DEPTH, "20 L", "which is a volume"),
    (LENGTH, "45", "such as 45 cm or 18 in"),
    (SHARE, "15", "such as 15%"),
    (SHARE, "0.15", "such as 15%"),
    (VOLUME, "9" * 200 + " L", "..."),
    (VOLUME, "1 " + "x" * 200, "..."),
]


@pytest.mark.parametrize(("measure", "text", "value"), ACCEPTED)
def test_accepted(measure: Measure, text: str, value: float) -> None:
    assert parse(text, measure).value == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(("measure", "text", "says"), REFUSED)
def test_refused_with_what_to_write_instead(measure: Measure, text: str, says: str) -> None:
    with pytest.raises(InputError) as refused:
        parse(text, measure)
    assert says in str(refused.value)
    assert len(str(refused.value)) < 400


def test_drops_keep_what_one_stands_for() -> None:
    assert parse("6 drops", ALKALINITY)[2:] == ("drops", 1.0)
    assert parse("6 drops", ALKALINITY, drop=0.5).value == 3.0
    assert parse("6 dKH", ALKALINITY).step is None


@pytest.mark.parametrize("word", ["gal", "gallons", "qt", "pint", "cups", "fl oz"])
def test_where_gallons_are_imperial_a_bare_one_must_say_which(word: str) -> None:
    with pytest.raises(InputError, match=r'"5 US .*" or "5 imp'):
        parse(f"5 {word}", VOLUME, home="imperial")
    parse(f"5 imp {word}", VOLUME, home="imperial")
    parse(f"5 US {word}", VOLUME, home="imperial")


def test_of_a_mass_or_a_volume_the_unit_tells_which() -> None:
    assert parse("5 kg", MASS, VOLUME).measure is MASS
    assert parse("1/4 cup", MASS, VOLUME).measure is VOLUME
    assert parse("5 oz wt", MASS, VOLUME).measure is MASS
    with pytest.raises(InputError, match=r'"5 fl oz" .a volume. or "5 oz wt"'):
        parse("5 oz", MASS, VOLUME)


UNITS = [(measure, unit) for measure in MEASURES for unit in measure.units]


@pytest.mark.parametrize(("measure", "unit"), UNITS)
def test_no_two_units_of_a_measure_are_spelled_alike(measure: Measure, unit: Unit) -> None:
    for word in (unit.name, *unit.spellings):
        found = measure.unit(word)
        assert found is unit
        assert spelled(word) not in measure.ambiguous


@given(st.sampled_from(UNITS), st.decimals(min_value=0, max_value=100_000, places=4))
def test_a_conversion_is_exact_and_goes_back(pair: tuple[Measure, Unit], amount: object) -> None:
    measure, unit = pair
    exact = Fraction(f"{amount:f}")
    typed = parse(f"{amount:f} {unit.name}", measure)
    assert typed.value == float(unit.to_base(exact))
    assert typed.unit == unit.name
    assert unit.from_base(unit.to_base(exact)) == exact


@given(st.sampled_from(UNITS), st.floats(min_value=0.01, max_value=10_000))
def test_what_is_shown_reads_back(pair: tuple[Measure, Unit], value: float) -> None:
    measure, unit = pair
    text = show(value, measure, unit.name, 12)
    assume(not (measure.thousands and re.match(r"[1-9][0-9]{0,2}\.[0-9]{3} ", text)))  # asked about, on purpose
    assert parse(text, measure).value == pytest.approx(value, rel=1e-6, abs=1e-5)


@given(st.sampled_from(MEASURES), st.text(max_size=100))
def test_any_text_is_a_quantity_or_is_refused(measure: Measure, text: str) -> None:
    with suppress(InputError):
        assert parse(text, measure).measure is measure
