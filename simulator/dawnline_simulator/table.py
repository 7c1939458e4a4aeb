"""The rows of a simulation as CSV: the readings in replay's form, and the truth beside them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO
from zoneinfo import ZoneInfo

from dawnline.duration import iso
from dawnline_simulator.simulate import Row

READINGS_HEADER = "time,ph,water\n"
TRUTH_HEADER = "time,ph,temperature,alkalinity_meq_l,co2_umol_l,event\n"


def write_tables(rows: Iterable[Row], zone: ZoneInfo, readings: TextIO, truth: TextIO | None) -> int:
    """Write both tables and return the number of rows; no reading came through where the line was broken."""
    readings.write(READINGS_HEADER)
    if truth is not None:
        truth.write(TRUTH_HEADER)
    count = 0
    for row in rows:
        when = iso(row.at, zone)
        readings.write(f"{when},{row.ph:.2f},{row.water:.2f}\n" if row.line == "whole" else f"{when},,\n")
        if truth is not None:
            t = row.truth
            truth.write(
                f"{when},{t.ph:.4f},{t.temperature_c:.4f},{t.alkalinity_meq_l:.4f},{t.co2_umol_l:.4f},{row.event}\n"
            )
        count += 1
    return count
