"""A rain gauge as its keeper sees it: replay, status, review, account, logbook."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from ..configuration import serial

POND = "volume_litres = 14000\nsurface_m2 = 12\ncatchment_m2 = 40\n"
ACTS = [
    {"time": "2026-06-01T10:00:00+02:00", "act": "hand-test", "kh_dkh": 4, "kh_step_dkh": 0.5},
    {"time": "2026-06-04T08:00:00+02:00", "act": "rain", "mm": 24},  # of which the gauge had 20
]


def rows(days: int) -> list[str]:
    """pH and a running total that begins anew at midnight; 20 mm fall on the evening of the third day."""
    made = []
    for day in range(1, days + 1):
        for minute in range(0, 1440, 10):
            fell = round(min(max(minute - 1200, 0) * 0.2, 20.0), 1) if day == 3 else 0.0
            time = f"2026-06-{day:02d}T{minute // 60:02d}:{minute % 60:02d}:00+02:00"
            made.append(f"{time},{7.8 - abs(minute - 1020) / 2000:.3f},{fell}")
    return made


@pytest.fixture
def gauged(folder: Path, configure: Any, replay: Any) -> Path:
    """A store with a week of pH and rain."""
    configure(probes=serial("ph", "ph", "/dev/no-such-port") + serial("rain", "rain", "/dev/no-such-port"))
    path = folder / "dawnline.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("[store]", f"{POND}[store]"), encoding="utf-8")
    (folder / "acts.jsonl").write_text("\n".join(json.dumps(act) for act in ACTS), encoding="utf-8")
    recording = "\n".join(["time,ph,rain", *rows(7)]) + "\n"
    said = replay(recording, "--acts", "acts.jsonl", "--store", "pond.db")
    assert (said.status, said.err) == (0, "")
    return folder


def test_replay_says_the_rain_by_the_quarter_of_an_hour(gauged: Path, call: Any) -> None:
    said = call("replay", "in.csv", "--json")
    fell = [each for each in said.lines if each["event"] == "rain"]
    assert sum(each["mm"] for each in fell) == pytest.approx(20.0)
    assert fell[0].keys() >= {"time", "since", "probe", "mm"}
    assert all(each["time"].startswith("2026-06-03T2") for each in fell)


def test_the_review_has_it_by_day_in_words_figures_and_pictures(gauged: Path, call: Any) -> None:
    said = call("review", "--html", "week.html", "--csv", "-").out
    found = {row["date"]: row["rain_mm"] for row in csv.DictReader(said.splitlines())}
    assert found["2026-06-03"] == "20.0"
    assert found["2026-06-04"] == "4.0"  # what the entry says beyond the gauge
    assert "Rain [mm]" in (gauged / "week.html").read_text(encoding="utf-8")
    words = call("review").out
    assert "rain by day [mm]: Wed 20.0, Thu 4.0; 24.0 in all" in words
    assert "24 mm of rain fell, most of it on Wednesday 3 June; it took about 8% of the buffer with it." in words
    fell = next(each for each in call("review", "--json").lines if each["event"] == "rainfall")
    assert (fell["mm"], fell["before"]) == (24.0, None)


def test_the_account_reckons_with_it(gauged: Path, call: Any) -> None:
    said = call("logbook", "account", "--at", "2026-06-07T20:00:00+02:00").out
    assert "rain                 -0.30   24 mm" in said


def test_status_says_what_fell_of_late(gauged: Path, call: Any) -> None:
    said = call("status").out
    assert "0.0 mm in all" in said
    assert "rain       0.0 mm today, 0.0 in the last hour, 0.0 in 24 h" in said
    assert json.loads(call("status", "--json").out)["rain"]["probe"] == "rain"


def test_readings_come_out_as_the_gauge_said_them(gauged: Path, call: Any) -> None:
    assert call("readings", "--csv", "out.csv").status == 0
    assert (gauged / "out.csv").read_text(encoding="utf-8").count(",20.0") > 0
    again = call("replay", "out.csv", "--json").lines
    assert sum(each["mm"] for each in again if each["event"] == "rain") == pytest.approx(20.0)


def test_status_says_nothing_of_the_rain_before_the_gauge_was_heard(gauged: Path, call: Any, replay: Any) -> None:
    (gauged / "pond.db").unlink()
    assert replay("time,ph\n2026-06-01T10:00:00+02:00,7.4\n", "--store", "pond.db").status == 0
    said = call("status").out
    assert "rain       no reading yet" in said
    assert "mm today" not in said
