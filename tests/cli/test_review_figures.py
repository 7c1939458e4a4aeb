"""The figures of `review` against a computation of its own over the raw table, over both changes of the clock."""

from __future__ import annotations

import csv
import io
import math
import sqlite3
from collections import defaultdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

ZONE = ZoneInfo("Europe/Berlin")
STEP_MIN = 5
LOW = 6.5


def recording(first: str, days: int, without: tuple[int, int] | None = None) -> str:
    """A rhythm that dips below 6.5; `without` leaves out minutes counted from the beginning."""
    start, rows = datetime.fromisoformat(first).replace(tzinfo=ZONE).timestamp(), ["time,ph,water"]
    for minute in range(0, days * 1440 + 30, STEP_MIN):
        if without is not None and without[0] <= minute < without[1]:
            continue
        at = datetime.fromtimestamp(start + 60 * minute, ZONE)
        hour = at.hour + at.minute / 60
        ph = 6.9 - 0.45 * math.cos((hour - 5.5) * math.tau / 24) + 0.02 * (minute // 5 % 3 - 1)
        water = 12.0 + 3 * math.sin((hour - 9) * math.tau / 24) + minute / 10_000
        rows.append(f"{at.isoformat()},{ph:.3f},{water:.2f}")
    return "\n".join(rows) + "\n"


def by_day(path: Path) -> tuple[dict[str, dict[str, float]], dict[str, tuple[float, float, float]]]:
    """What the raw table says of each local day, computed here and nowhere else.

    A good reading of pH is held until the next one, for three intervals at most, and cut at midnight.
    """
    db = sqlite3.connect(path)
    good = {name: db.execute("SELECT at, value FROM readings JOIN probes ON probe = id WHERE name = ? AND flag = 1 "
                             "ORDER BY at", (name,)).fetchall() for name in ("ph", "water")}  # fmt: skip
    db.close()

    def local(at: float) -> date:
        return datetime.fromtimestamp(at / 1000, ZONE).date()

    held: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for (at, value), (following, _) in zip(good["ph"], [*good["ph"][1:], good["ph"][-1]], strict=True):
        end = min(following, at + 3 * STEP_MIN * 60_000)
        while at < end:
            midnight = datetime.combine(local(at) + timedelta(days=1), datetime.min.time(), ZONE).timestamp() * 1000
            until = min(end, midnight)
            held[str(local(at))].append((value, until - at))
            at = until  # noqa: PLW2901 - the part after midnight
    figures = {}
    for on, parts in held.items():
        day = date.fromisoformat(on)
        begin, end = (datetime.combine(each, datetime.min.time(), ZONE) for each in (day, day + timedelta(days=1)))
        length, whole = (end.timestamp() - begin.timestamp()) * 1000, sum(span for _, span in parts)
        figures[on] = {
            "mean": sum(value * span for value, span in parts) / whole,
            "minutes_below": sum(span for value, span in parts if value < LOW) / 60_000,
            "coverage": whole / length,
            "held": whole,
        }
    warm: dict[str, list[float]] = defaultdict(list)
    for at, value in good["water"]:
        warm[str(local(at))].append(value)
    return figures, {on: (min(all_), max(all_), sum(all_) / len(all_)) for on, all_ in warm.items()}


@pytest.mark.parametrize(
    ("first", "changed", "hours"), [("2026-03-26", "2026-03-29", 23), ("2026-10-22", "2026-10-25", 25)]
)
def test_days_and_means_equal_a_computation_of_its_own(
    folder: Path, replay: Any, call: Any, first: str, changed: str, hours: int
) -> None:
    assert replay(recording(first, 7, without=(700, 880)), "--store", "pond.db").status == 0
    figures, warm = by_day(folder / "pond.db")
    lines = call("review", "--json", "--from", first, "--to", str(date.fromisoformat(first) + timedelta(days=6))).lines
    days = {row["date"]: row for row in lines if row["event"] == "day"}
    assert len(days) == 7
    for on, day in days.items():
        assert day["mean"] == pytest.approx(figures[on]["mean"], abs=1e-4)
        assert day["minutes_below"] == pytest.approx(figures[on]["minutes_below"], abs=0.01)
        assert day["coverage"] == pytest.approx(figures[on]["coverage"], abs=1e-4)
        assert day["minutes_below"] > 60
    assert days[changed]["coverage"] == 1.0
    assert figures[changed]["held"] == hours * 3_600_000
    ph, water = (row["this"] for row in lines if row["event"] == "probe")
    whole = sum(each["held"] for on, each in figures.items() if on in days)
    mean = sum(each["mean"] * each["held"] for on, each in figures.items() if on in days) / whole
    assert ph["mean"] == pytest.approx(mean, abs=1e-4)
    assert ph["minutes_below"] == pytest.approx(sum(figures[on]["minutes_below"] for on in days), abs=0.01)
    assert ph["coverage"] == pytest.approx(1 - (180 - 10) / (7 * 1440 + (24 - hours) * -60), abs=1e-3)
    assert ph["dawn_low"] == pytest.approx(sum(day["dawn_low"] for day in days.values()) / 7, abs=1e-4)
    found = {row["date"]: (row["low"], row["high"], row["mean"]) for row in water["days"]}
    assert found == {on: pytest.approx(warm[on], abs=1e-4) for on in days}
    (gap_ph, gap_water) = [row for row in lines if row["event"] == "gap"]
    assert (gap_ph["from"][11:16], gap_ph["to"][11:16]) == ("11:45", "14:30")
    assert gap_water["probe"] == "water"


def test_the_table_the_report_and_the_data_say_the_same(folder: Path, replay: Any, call: Any) -> None:
    assert replay(recording("2026-06-01", 3), "--store", "pond.db").status == 0
    days = [row for row in call("review", "--json").lines if row["event"] == "day"]
    rows = list(csv.DictReader(io.StringIO(call("review", "--csv", "-").out)))
    assert call("review", "--html", "week.html", "--csv", "week.csv").status == 0
    assert (folder / "week.csv").read_text() == call("review", "--csv", "-").out
    html = (folder / "week.html").read_text()
    for row, day in zip(rows, days, strict=True):
        for key in ("date", "probe", "dawn_low", "dawn_low_at", "swing", "mean", "minutes_below", "coverage"):
            assert row[key] == ("" if day[key] is None else str(day[key]))
        if day["dawn_low"] is not None:
            assert f"{day['dawn_low']:.2f} <small>{day['dawn_low_at'][11:16]}</small>" in html


def test_beside_the_week_before_and_a_year_ago(replay: Any, call: Any) -> None:
    rows = [recording("2025-06-04", 3), recording("2026-06-01", 6)]
    assert replay(rows[0] + rows[1].partition("\n")[2], "--store", "pond.db").status == 0
    words = ("--from", "2026-06-04", "--to", "2026-06-06")
    lines = call("review", "--json", *words).lines
    (beside,) = [row for row in lines if row["event"] == "probe" and row["probe"] == "ph"]
    assert (beside["this"]["days"], beside["before"]["days"]) == (3, 3)
    assert beside["year_ago"]["days"] == 3  # Thursday 5 June 2025 to the Saturday, of which half an hour
    assert "about the same as the 3 days before" in call("review", *words).out


def test_a_gap_of_a_year_is_said(replay: Any, call: Any) -> None:
    rows = [recording("2025-06-01", 3), recording("2026-06-01", 1)]
    assert replay(rows[0] + rows[1].partition("\n")[2], "--store", "pond.db").status == 0
    found = call("review", "--from", "2025-06-01", "--to", "2026-06-01")
    assert found.status == 0
    assert "the longest gap is 361 d 23 h from Wed 4 Jun 00:30" in found.out
    lines = call("review", "--json", "--from", "2025-06-01", "--to", "2026-06-01").lines
    (ph, water) = [row for row in lines if row["event"] == "gap"]
    assert (ph["from"][:10], ph["to"][:10], water["probe"]) == ("2025-06-04", "2026-06-01", "water")
    assert "Nothing was recorded on these days." in call("review", "--from", "2025-12-01", "--to", "2025-12-07").out
