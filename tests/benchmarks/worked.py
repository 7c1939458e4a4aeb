"""Worked examples of ammonia, doses and the account beside published values, as a table.

Published values stand with their source. PHREEQC is run live through phreeqpython where it loads. "Common practice" has
no source: there the chemistry is set beside the habit. Ends with status 1 where a published value is missed.

Usage: worked.py
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from itertools import product
from math import log10
from pathlib import Path
from typing import NamedTuple

from dawnline.account.terms import (
    MEQ_PER_MG_N,
    ammonia_mg_n_day,
    feed_meq_l_day,
    nitrification_meq_l_day,
    rain_keeps,
)
from dawnline.water.ammonia import unionised_fraction
from dawnline.water.ammonia_criteria import acute_criterion, chronic_criterion
from dawnline.water.doses import (
    AIR_CO2_UATM,
    aired,
    bicarbonate_g,
    mixed,
    oxygen_for_acetic,
    water_of,
    with_bicarbonate,
    with_vinegar,
)
from dawnline.water.units import convert_alkalinity, dkh_from_meq_l, meq_l_from_dkh

REFERENCE = Path(__file__).parents[1] / "reference"


class Example(NamedTuple):
    """One line: what, its source, the published value, ours, and how far they may be apart."""

    what: str
    source: str
    published: float
    ours: float
    within: float

    @property
    def holds(self) -> bool:
        return abs(self.published - self.ours) <= self.within


def units() -> Iterator[Example]:
    din = "definition, 10 mg CaO/L (DIN)"
    yield Example("1 dKH in meq/L", din, 0.35665, convert_alkalinity(1, "dKH", "meq/L"), 1e-5)
    yield Example("1 dKH in mg/L CaCO3", din, 17.848, convert_alkalinity(1, "dKH", "mg/L CaCO3"), 1e-3)
    yield Example("1 dKH in mg/L HCO3", din, 21.7616, convert_alkalinity(1, "dKH", "mg/L HCO3"), 1e-3)
    yield Example("1 meq/L in mg/L CaCO3", "molar masses (IUPAC)", 50.0435, convert_alkalinity(1, "meq/L", "ppm"), 1e-3)
    yield Example("1 fH in dKH", "definition, 10 mg CaCO3/L", 0.56029, convert_alkalinity(1, "fH", "dKH"), 1e-5)
    yield Example("1 eH in dKH", "definition, grain/imp gal", 0.79863, convert_alkalinity(1, "eH", "dKH"), 1e-4)
    yield Example("1 grain/US gal in mg/L", "definition", 17.118, convert_alkalinity(1, "gpg", "ppm"), 1e-3)


def amounts() -> Iterator[Example]:
    masses = "molar masses (IUPAC)"
    yield Example("NaHCO3, g/m3 a dKH", masses, 29.961, bicarbonate_g(meq_l_from_dkh(1), 1000), 1e-3)
    yield Example("NaHCO3, g/m3 a meq/L", masses, 84.007, bicarbonate_g(1, 1000), 1e-3)
    yield Example("g CaCO3 a g N", "stoichiometry", 7.1457, MEQ_PER_MG_N * 50.0435, 1e-3)
    yield Example("the same, with growth", "Ebeling et al. 2006", 7.05, MEQ_PER_MG_N * 50.0435, 0.11)
    yield Example("g TAN of 200 g of 35 %", "Timmons and Ebeling", 6.44, ammonia_mg_n_day(200, 35) / 1000, 5e-3)
    daily = dkh_from_meq_l(nitrification_meq_l_day(200, 35, 15000, 20, 7.6))
    yield Example("dKH a day its nitrification takes in 15 m3", "the two above", 0.172, daily, 1e-3)
    kept = feed_meq_l_day(1000, 35, 1000, 20, 7.6) * 84.007
    yield Example("g NaHCO3 a kg of feed, 1 eq a mol of N", "Wolf-Gladrow et al. 2007", 193.2, kept, 0.1)
    yield Example("50 mm of rain on 1.5 m", "exp(-r/d)", 0.96722, rain_keeps(50, 1500), 1e-5)
    roof = 15000 / (10 + 0.9 * 40)
    yield Example("the same with 40 m2 of roof at a run-off of 0.9", "exp(-r/d)", 0.85784, rain_keeps(50, roof), 1e-5)
    yield Example("oxygen a g acetic acid", "stoichiometry", 1.0657, oxygen_for_acetic(1), 1e-3)


def rows(name: str) -> list[dict[str, float]]:
    with (REFERENCE / name).open(encoding="utf-8") as lines:
        next(lines)
        return [{key: float(cell) for key, cell in row.items()} for row in csv.DictReader(lines)]


def ammonia() -> Iterator[Example]:
    for row in rows("ammonia_emerson.csv")[::4]:
        ours = 100 * unionised_fraction(row["ph"], row["temperature_c"])
        what = f"% NH3 at pH {row['ph']:g}, {row['temperature_c']:g} degC"
        yield Example(what, "Emerson et al. 1975", row["percent"], ours, 6e-4 * row["percent"])
    for row in rows("ammonia_trussell.csv")[::3]:
        ours = 100 * unionised_fraction(row["ph"], row["temperature_c"])
        what = f"% NH3 at pH {row['ph']:g}, {row['temperature_c']:g} degC"
        yield Example(what, "Trussell 1972", row["percent"], ours, 0.03 * row["percent"])
    yield Example("acute, pH 7, 20 degC", "US EPA 2013, printed", 17, acute_criterion(7, 20, salmonids=True,
                                                                                     mussels=True), 0.5)  # fmt: skip
    yield Example("chronic, pH 7, 20 degC", "US EPA 2013, printed", 1.9, chronic_criterion(7, 20, mussels=True), 0.05)
    for row in rows("ammonia_epa_2013.csv")[::3]:
        where = f"pH {row['ph']:g}, {row['temperature_c']:g} degC"
        acute = acute_criterion(row["ph"], row["temperature_c"])
        chronic = chronic_criterion(row["ph"], row["temperature_c"])
        yield Example(f"acute, fish, {where}", "US EPA 2013, formula", row["acute_fish"], acute, 0.0051)
        yield Example(f"chronic, fish, {where}", "US EPA 2013, formula", row["chronic_young"], chronic, 0.0051)


def phreeqc() -> Iterator[Example]:
    from phreeqpython import PhreeqPython

    engine, air = PhreeqPython(database="phreeqc.dat"), log10(AIR_CO2_UATM * 1e-6)

    def filled(alkalinity: float, pressure: float, celsius: float):
        solution = engine.add_solution_simple({"Ca(HCO3)2": alkalinity / 2}, temperature=celsius)
        solution.equalize(["CO2(g)"], [pressure])
        return solution

    for alkalinity, pressure, added in product((0.1, 0.5, 2.0), (-3.4, -1.8), (0.178, 0.357)):
        solution = filled(alkalinity, pressure, 15.0)
        ours, start = with_bicarbonate(water_of(alkalinity, solution.pH, 15.0), added), solution.pH
        solution.add("NaHCO3", added)
        what = f"{dkh_from_meq_l(alkalinity):.1f} dKH, pH {start:.1f} + {dkh_from_meq_l(added):.1f} dKH: pH"
        yield Example(f"{what} at once", "PHREEQC", solution.pH, ours.ph, 0.05)
        solution.equalize(["CO2(g)"], [air])
        yield Example(f"{what} in air", "PHREEQC", solution.pH, aired(ours).ph, 0.05)
    for share, source in product((0.1, 0.3), (0.5, 3.0)):
        one, two = filled(1.0, -2.8, 20.0), filled(source, -2.0, 12.0)
        ours = mixed(water_of(1.0, one.pH, 20.0), water_of(source, two.pH, 12.0), share)
        blend = engine.mix_solutions({one: 1 - share, two: share})
        blend.change_temperature(ours.temperature_c)
        what = f"{share:.0%} changed, new water {dkh_from_meq_l(source):.1f} dKH: pH"
        yield Example(f"{what} at once", "PHREEQC", blend.pH, ours.ph, 0.05)
        blend.equalize(["CO2(g)"], [air])
        yield Example(f"{what} in air", "PHREEQC", blend.pH, aired(ours).ph, 0.05)


def practice() -> Iterator[str]:
    yield "a usual kit: one drop a dKH, so a reading n stands for n - 1 to n; comfortable: pH 6.5 to 8.5, around 7"
    yield "a quarter cup of white vinegar (5 %) a 500 gallons, at pH 8.5 and 20 degC:"
    cups = {"US": (236.5882365 / 4, 500 * 3.785411784), "imperial": (284.130625 / 4, 500 * 4.54609)}
    for (name, (cup, litres)), kh in product(cups.items(), (1, 3, 6)):
        water = water_of(meq_l_from_dkh(kh), 8.5, 20.0)
        after = with_vinegar(water, cup, litres)
        oxygen = oxygen_for_acetic(cup * 50 / litres)
        yield (
            f"  {name:<8} {cup / litres * 1000:.1f} mL/m3 at {kh} dKH: pH 8.50 to {after.ph:.2f}, "
            f"and {oxygen:.1f} mg/L of oxygen"
        )


def main() -> int:
    examples = [*units(), *amounts(), *ammonia()]
    try:
        examples += phreeqc()
    except (ImportError, OSError) as error:
        print(f"PHREEQC does not load here ({error}): its lines are left out")
    for each in examples:
        mark = "" if each.holds else "   MISSED"
        print(f"{each.what:<48} {each.published:>9.4g} {each.ours:>9.4g}   {each.source}{mark}")
    print("\ncommon practice, no source:")
    print("\n".join(practice()))
    missed = [each for each in examples if not each.holds]
    worst = max((abs(e.ours - e.published) for e in examples if e.source == "PHREEQC"), default=0.0)
    print(f"\n{len(examples)} examples, {len(missed)} missed; the pH farthest from PHREEQC: {worst:.3f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
