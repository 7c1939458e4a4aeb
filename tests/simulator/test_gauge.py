"""The simulator's rain gauge: the same rain in three ways of speaking, on every wire."""

from __future__ import annotations

import io
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import parse_time
from dawnline_simulator.gauge import gauged
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import Row, simulate
from dawnline_simulator.table import write_tables
from dawnline_simulator.wires.modbus import registers
from dawnline_simulator.wires.text import line

ZONE = ZoneInfo("Europe/Berlin")
STORY = SCENARIOS["cloudburst"]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """The day of the cloudburst and the one after it."""
    start = parse_time("2026-06-04T12:00", ZONE)
    return list(simulate(STORY, 3, start, 2.0, 60_000))


def rainy(rows: list[Row]) -> list[Row]:
    """The story begins with the start; its rain falls on the fourth evening."""
    shift = 0.0
    made = []
    for n, row in enumerate(rows):
        shift += 0.5 if 100 <= n < 200 else 0.0
        made.append(row._replace(fell=shift))
    return made


def test_the_cloudburst_fills_the_gauge() -> None:
    start = parse_time("2026-06-01T00:00", ZONE)
    last = list(simulate(STORY, 3, start, 4.2, 600_000))[-1]
    assert last.fell == pytest.approx(55.0, rel=0.12)  # as the story says, scattered by the seed


def test_three_ways_of_speaking_tell_the_same_rain(rows: list[Row]) -> None:
    story = rainy(rows)
    total = [row.rain or 0.0 for row in gauged(story, "total", ZONE)]
    amounts = [row.rain or 0.0 for row in gauged(story, "amount", ZONE)]
    anew = [row.rain or 0.0 for row in gauged(story, "midnight", ZONE)]
    assert total[-1] == pytest.approx(50.0)
    assert sum(amounts) == pytest.approx(50.0)
    assert sum(max(b - a, 0.0) for a, b in pairwise(anew)) == pytest.approx(50.0)
    assert anew[-1] == 0.0


def test_every_wire_and_the_table_say_it(rows: list[Row]) -> None:
    row = rows[0]._replace(rain=12.4)
    assert line(row).endswith(b" rain=12.4\n")
    assert registers(7.0, 18.0, 12.4)[6] == 62
    assert registers(7.0, 18.0, 65_536 * 0.2 + 0.4)[6] == 2
    out = io.StringIO()
    write_tables([row, row._replace(line="silent")], ZONE, out, None)
    head, first, second = out.getvalue().splitlines()
    assert head == "time,ph,water,rain"
    assert first.endswith(",12.4")
    assert second.endswith(",,,")
