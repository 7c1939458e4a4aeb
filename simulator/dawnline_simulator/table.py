"""The rows of a simulation as CSV: the readings in replay's form, and the truth beside them."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from typing import TextIO
from zoneinfo import ZoneInfo

from dawnline.duration import iso
from dawnline_simulator.simulate import Row

READINGS_HEADER = "time,ph,water"
TRUTH_HEADER = "time,ph,temperature,alkalinity_meq_l,co2_umol_l,event\n"


def write_tables(rows: Iterable[Row], zone: ZoneInfo, readings: TextIO, truth: TextIO | None) -> int:
    """Write both tables and return the number of rows; no reading came through where the line was broken.

    A column `rain` stands there where the rows have some.
    """
    rows = iter(rows)
    first = next(rows, None)
    gauge = first is not None and first.rain is not None
    readings.write(f"{READINGS_HEADER}{',rain' if gauge else ''}\n")
    if truth is not None:
        truth.write(TRUTH_HEADER)
    count = 0
    for row in () if first is None else chain([first], rows):
        when = iso(row.at, zone)
        cells = [f"{row.ph:.2f}", f"{row.water:.2f}", *([] if row.rain is None else [f"{row.rain:.1f}"])]
        readings.write(",".join([when, *(cells if row.line == "whole" else [""] * len(cells))]) + "\n")
        if truth is not None:
            t = row.truth
            truth.write(
                f"{when},{t.ph:.4f},{t.temperature_c:.4f},{t.alkalinity_meq_l:.4f},{t.co2_umol_l:.4f},{row.event}\n"
            )
        count += 1
    return count
