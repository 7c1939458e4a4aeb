"""`review`, `status` and the running day where a probe delivers millivolts or has been calibrated."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from math import cos, pi
from pathlib import Path
from typing import Any

import pytest

from dawnline.electrode.calibration import Calibration

BEGIN = datetime(2026, 6, 3, tzinfo=UTC) - timedelta(hours=2)  # midnight in Berlin
DAYS = 6.5
GLASS = Calibration("electrode_mv", 96.0, -8.0)
PROBES = """
[[probes]]
name = "ph"
quantity = "QUANTITY"
link = "serial"
port = "/dev/no-such-port"
temperature = "water"
[[probes]]
name = "water"
quantity = "temperature"
link = "serial"
port = "/dev/no-such-port"
"""


def rows(quantity: str, drift_a_day: float) -> str:
    found = ["time,ph,water"]
    for minute in range(0, round(DAYS * 1440), 10):
        ph = 7.3 - 0.3 * cos(2 * pi * (minute / 1440 - 5 / 24)) + drift_a_day * minute / 1440
        value = f"{GLASS.measured(ph, 18.0):.3f}" if quantity == "electrode_mv" else f"{ph:.4f}"
        found.append(f"{(BEGIN + timedelta(minutes=minute)).isoformat()},{value},18.0")
    return "\n".join(found)


def act(day: float, kind: str, **body: Any) -> str:
    return json.dumps({"time": (BEGIN + timedelta(days=day)).isoformat(), "act": kind, "probe": "ph", **body})


@pytest.fixture
def filled(folder: Path, configure: Any, replay: Any) -> Callable[[str], list[dict[str, Any]]]:
    """A store with a probe that drifts by 0.05 a day, calibrated at noon of the first day and of the fifth."""

    def fill(quantity: str) -> list[dict[str, Any]]:
        configure(probes=PROBES.replace("QUANTITY", quantity))

        def points(off: float) -> list[list[float]]:
            shown = [7.0 + off, 10.0 + off]
            if quantity == "electrode_mv":
                shown = [GLASS.measured(each, 18.0) for each in shown]
            return [[7.0, shown[0], 18.0], [10.0, shown[1], 18.0]]

        acts = [act(0.5, "calibrated", points=points(0.025)), act(4.5, "calibrated", points=points(0.225))]
        (folder / "acts.jsonl").write_text("\n".join(acts), encoding="utf-8")
        found = replay(rows(quantity, 0.05), "--acts", "acts.jsonl", "--json", "--store", "pond.db")
        assert (found.status, found.err) == (0, "")
        lines: list[dict[str, Any]] = found.lines
        return lines

    return fill


@pytest.mark.parametrize("quantity", ["ph", "electrode_mv"])
def test_corrected_lows_stand_beside_the_measured(filled: Any, call: Any, quantity: str) -> None:
    replayed = [row for row in filled(quantity) if row["event"] == "day"]
    found = call("review", "--json").lines
    days = {row["date"]: row for row in found if row["event"] == "day"}
    [correction] = [row for row in found if row["event"] == "correction"]
    assert (correction["probe"], correction["grade"]) == ("ph", "excellent")
    assert correction["worst"] == pytest.approx(0.2, abs=0.01)
    for day in correction["days"]:
        if day["dawn_low"] is not None:
            assert day["dawn_low"] == pytest.approx(7.0, abs=0.01)
            assert days[day["date"]]["dawn_low"] >= day["dawn_low"]
    assert [day["dawn_low"] is not None for day in correction["days"]] == [False, True, True, True, True, False, False]
    assert correction["days"][4]["dawn_low"] < days["2026-06-07"]["dawn_low"] - 0.15

    running, last = days["2026-06-09"], replayed[-1]
    assert running["partial"]
    assert running["dawn_low"] == pytest.approx(last["dawn_low"], abs=1e-3)
    assert running["mean"] == pytest.approx(last["mean"], abs=1e-3)

    text = call("review").out
    assert "corrected" in text
    assert "USGS TM 1-D3): ph: excellent, corrected by up to 0.20 pH" in text
    assert "▁" in text


def test_readings_go_out_as_measured(filled: Any, call: Any, folder: Path) -> None:
    filled("electrode_mv")
    assert call("readings", "--csv", "out.csv").status == 0
    values = [line.split(",")[1] for line in (folder / "out.csv").read_text().splitlines()[1:] if line.split(",")[1]]
    assert max(abs(float(value)) for value in values) > 20


def test_status_of_a_store_alone_knows_the_calibration(filled: Any, call: Any) -> None:
    filled("electrode_mv")
    text = call("status").out
    assert "calibration: 2026-06-07: slope 96.0 %" in text
    assert "18.0 °C measured" in text
    now = json.loads(call("status", "--json").out)["probes"]["ph"]
    assert now["unit"] == "mV"
    assert now["ph"] == pytest.approx(7.47, abs=0.02)
    assert now["calibration"]["due"] == []
    assert now["calibration"]["slope"] == pytest.approx(96.0, abs=0.1)


def test_without_calibrations_review_is_as_it_was(folder: Path, replay: Any, call: Any) -> None:
    replay(rows("ph", 0.0), "--store", "pond.db")
    found = call("review", "--json").lines
    [correction] = [row for row in found if row["event"] == "correction"]
    assert (correction["grade"], correction["worst"]) == (None, None)
    text = call("review").out
    assert "corrected" not in text
    assert "TM 1-D3" not in text


def test_listed_with_age_slope_and_offset(filled: Any, call: Any) -> None:
    filled("electrode_mv")
    listed = call("probes", "list").out
    assert "calibrated 2026-06-07, 1 d 23 h ago: slope 96.0 %, offset -" in listed
    history = call("probes", "history", "ph").out
    assert [line[:29].split() for line in history.splitlines()[:2]] == [
        ["2026-06-03T12:00", "calibrated"], ["2026-06-07T12:00", "calibrated"],
    ]  # fmt: skip
    assert "slope     no trend yet" in history
    assert "electrode: cannot say yet" in history
    assert call("probes", "history", "water").status == 2
    [known] = [row for row in call("probes", "list", "--json").lines[0]["probes"] if row["name"] == "ph"]
    assert known["calibration"]["slope"] == pytest.approx(96.0, abs=0.1)
    [told] = call("probes", "history", "ph", "--json").lines
    assert [(row["act"], row["time"][:16]) for row in told["history"]] == [
        ("calibrated", "2026-06-03T12:00"), ("calibrated", "2026-06-07T12:00")
    ]  # fmt: skip
    assert told["slope_a_month"] is None
    assert told["worn_out"]["text"].startswith("cannot say yet")


def test_never_calibrated_is_listed_too(folder: Path, configure: Any, replay: Any, call: Any) -> None:
    configure(probes=PROBES.replace("QUANTITY", "electrode_mv"))
    assert "electrode_mv" in call("probes", "list").out  # no store yet
    replay(rows("electrode_mv", 0.0), "--store", "pond.db")
    assert "never calibrated" in call("probes", "list").out
    assert "due: it was never calibrated" in call("probes", "list").out
    found = call("probes", "history", "ph")
    assert (found.status, found.out) == (1, "ph was never calibrated, checked or cleaned\n")
    as_json = call("probes", "history", "ph", "--json")
    assert (as_json.status, as_json.lines[0]["history"]) == (1, [])


def test_probes_are_listed_beside_a_store_that_cannot_be_read(folder: Path, call: Any) -> None:
    (folder / "pond.db").write_text("no database at all, and long enough to be looked at")
    found = call("probes", "list")
    assert found.status == 1
    assert "it is no SQLite database" in found.err
    assert "water" in found.out
