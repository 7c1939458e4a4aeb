"""A probe's course over any range keeps every extreme, and is in pH whatever the probe measures."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, pi
from pathlib import Path

import pytest

from dawnline.cli import main
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.electrode.calibration import IDEAL
from dawnline.queries.course_of import course_of
from dawnline.rollup import STEP_MS
from dawnline.settings import load
from dawnline.store.reader import Reader

from ..configuration import POND, serial

BEGIN = datetime(2026, 6, 3, tzinfo=UTC)
START = round(BEGIN.timestamp() * 1000)
PROBES = {
    "ph": serial("ph", "ph"),
    "electrode_mv": serial("ph", "electrode_mv", "/dev/null", 'temperature = "water"'),
}


def true_ph(minute: int) -> float:
    return 7.3 - 0.3 * cos(2 * pi * minute / 1440) + (0.15 if minute == 1000 else 0.0)


@pytest.mark.parametrize("quantity", ["ph", "electrode_mv"])
@pytest.mark.parametrize("hours", [1, 24, 60])
@pytest.mark.parametrize("most", [10, 100, 800])
def test_every_extreme_is_in_it(tmp_path: Path, quantity: str, hours: int, most: int) -> None:
    config, recording = tmp_path / "dawnline.toml", tmp_path / "in.csv"
    config.write_text(POND + PROBES[quantity] + serial("water", "temperature"), encoding="utf-8")
    rows = ["time,ph,water"]
    for minute in range(0, 60 * 60, 4):
        ph = true_ph(minute)
        value = f"{IDEAL['electrode_mv'].measured(ph, 20.0):.4f}" if quantity == "electrode_mv" else f"{ph:.5f}"
        rows.append(f"{(BEGIN + timedelta(minutes=minute)).isoformat()},{value},20.0")
    recording.write_text("\n".join(rows), encoding="utf-8")
    assert main(["--config", str(config), "replay", str(recording), "--store", str(tmp_path / "pond.db")]) == 0
    settings = load(config)
    start = START + 16 * HOUR_MS
    end = start + hours * HOUR_MS
    with Reader.open(settings.store.path) as reader:
        course = course_of(reader, settings, "ph", start, end, most=most)
        good = [at for at, _ in reader.good("ph", start - start % course.step, end)]
        assert course_of(reader, settings, "nobody", start, end).rollups == []
        assert course_of(reader, settings, "ph", end, start).rollups == []
    shown = [true_ph((at - START) // MINUTE_MS) for at in good]
    if course.step < STEP_MS:
        assert min(each.low for each in course.rollups) == pytest.approx(min(shown), abs=1e-3)
        assert max(each.high for each in course.rollups) == pytest.approx(max(shown), abs=1e-3)
        assert sum(each.number for each in course.rollups) == len(good)
    else:  # whole quarters of an hour: the ends may reach a little farther
        assert min(each.low for each in course.rollups) <= min(shown) + 1e-3
        assert max(each.high for each in course.rollups) >= max(shown) - 1e-3
    assert len(course.rollups) <= most + 2
    assert course.step * most >= end - start or course.step >= DAY_MS
