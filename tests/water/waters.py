"""PHREEQC's tables as waters: what is given of each, and the pH that follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from dawnline.water.constants import henry
from dawnline.water.units import MG_PER_UMOL_CO2

Table = Callable[[str], list[dict[str, float]]]
AIR = 10**-3.38 * 1e6  # uatm of CO2


class Solved(NamedTuple):
    """Alkalinity [meq/L], CO2 [umol/L], temperature [degC] and pH of one water; its row, for a complaint."""

    alkalinity: float
    co2: float
    celsius: float
    ph: float
    row: dict[str, float]


def in_balance_with_air(table: Table) -> list[Solved]:
    rows = table("ph_at_air_equilibrium.csv")
    assert len(rows) == 15
    return [
        Solved(row["alkalinity_meq_l"], henry(row["temperature_c"]) * AIR, row["temperature_c"], row["ph"], row)
        for row in rows
    ]


def at_a_fixed_co2(table: Table) -> list[Solved]:
    rows = table("ph_at_fixed_co2.csv")
    assert len(rows) == 75
    return [
        Solved(row["alkalinity_meq_l"], row["co2_mg_l"] / MG_PER_UMOL_CO2, row["temperature_c"], row["ph"], row)
        for row in rows
    ]


def on_the_crash_curve(table: Table) -> list[Solved]:
    """1 mmol/L of calcium stays in all of them, whatever becomes of the bicarbonate."""
    rows, found = table("crash_curve.csv"), []
    assert len(rows) == 34
    for row in rows:
        celsius = row["temperature_c"]
        for column, co2 in (
            ("ph_air", henry(celsius) * AIR),
            ("ph_3_2_air", henry(celsius) * AIR * 10**0.5),
            ("ph_co2_3_mg_l", 3.0 / MG_PER_UMOL_CO2),
            ("ph_co2_10_mg_l", 10.0 / MG_PER_UMOL_CO2),
        ):
            found.append(Solved(row["alkalinity_meq_l"], co2, celsius, row[column], row))
    return found
