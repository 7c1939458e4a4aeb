"""`dawnline logbook account` and `dose shell` on a store that replay filled."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

ROWS = [
    f"2026-06-{day:02d}T{m // 60:02d}:{m % 60:02d}:00+02:00,{8.0 - abs(m - 1020) / 1000:.4f},19.5"
    for day in range(1, 16)
    for m in range(0, 1440, 30)
]
ACTS = [
    {"time": "2026-06-01T10:00:00+02:00", "act": "feed", "grams_a_day": 130, "protein_percent": 38},
    {"time": "2026-06-01T10:00:00+02:00", "act": "hand-test", "kh_dkh": 4, "kh_step_dkh": 0.5},
    {"time": "2026-06-08T10:00:00+02:00", "act": "hand-test", "kh_dkh": 3.5, "kh_step_dkh": 0.5},
    {"time": "2026-06-10T10:00:00+02:00", "act": "dose", "what": "bicarbonate", "grams": 400},
    {"time": "2026-06-15T10:00:00+02:00", "act": "hand-test", "kh_dkh": 3.5, "kh_step_dkh": 0.5},
]
AT = ("--at", "2026-06-15T20:00:00+02:00")


@pytest.fixture
def filled(folder: Path, replay: Any) -> Path:
    """A store with fifteen days of a pond of 14 m3, its tests, feed and a dose."""
    path = folder / "dawnline.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[pond]", "[pond]\nvolume_litres = 14000\nsurface_m2 = 12"), encoding="utf-8")
    (folder / "acts.jsonl").write_text("\n".join(json.dumps(act) for act in ACTS), encoding="utf-8")
    recording = "\n".join(["time,ph,water", *ROWS]) + "\n"
    assert replay(recording, "--store", "pond.db", "--acts", "acts.jsonl").status == 0
    return folder


def test_where_the_buffer_went(filled: Path, call: Any) -> None:
    said = call("logbook", "account", *AT)
    assert (said.status, said.err) == (0, "")
    assert "from 3 tests of KH, the last on 2026-06-15" in said.out
    assert "130 g a day as nitrified, 38 % protein" in said.out
    assert "doses                +0.95" in said.out
    assert "a day costs" in said.out
    assert "by the account:" in said.out


def test_one_odd_night_does_not_end_the_buffer(filled: Path, call: Any, replay: Any) -> None:
    """The air stops in the last night of the record's whole days: pH sinks by 1.2 until four, and comes back."""

    def days() -> tuple[float, list[str]]:
        (last,) = [
            line for line in call("review", "--json", "--to", "2026-06-15").lines if line.get("date") == last_day
        ]
        said = call("logbook", "account", *AT).out.splitlines()
        return last["dawn_low"], [line for line in said if "by the account:" in line]

    last_day, odd = "2026-06-14", []
    low, said = days()
    for row in ROWS:
        time, ph, water = row.split(",")
        hour = int(time[11:13]) + int(time[14:16]) / 60
        less = 1.2 - 0.3 * abs(hour - 4) if time[:10] == last_day else 0.0
        odd.append(f"{time},{float(ph) - max(less, 0.0):.4f},{water}")
    (filled / "pond.db").unlink()
    replay("\n".join(["time,ph,water", *odd]) + "\n", "--store", "pond.db", "--acts", "acts.jsonl")
    assert days()[0] < low - 0.5
    assert days()[1] == said


def test_now_is_now_by_the_ponds_clock(filled: Path, call: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLINE_CLOCK_RATE", f"1@2026-06-15T20:00:00+02:00@{time.time()}")
    assert "the last on 2026-06-15" in call("logbook", "account").out
    assert "your test of 2026-06-15 10:00, 10 h ago" in call("dose", "raise-kh", "--to", "5dKH").out
    monkeypatch.setenv("DAWNLINE_CLOCK_RATE", f"1@2026-12-15T20:00:00+02:00@{time.time()}")
    assert "no test of KH from the last 120 days" in call("logbook", "account").out
    assert "the present KH is not known" in call("dose", "raise-kh", "--to", "5dKH").out


def test_the_account_as_json(filled: Path, call: Any) -> None:
    said = json.loads(call("logbook", "account", "--json", *AT).out)
    assert said["version"] == 1
    assert said["kh_dkh"] == pytest.approx(3.3, abs=0.3)
    assert said["week_meq_l"]["doses"] == pytest.approx(400 / 84.007 / 14, rel=1e-3)
    assert said["points"][0][0].startswith("2026-06-01T10:00")


def test_no_account_without_a_test(folder: Path, replay: Any, call: Any) -> None:
    assert replay("\n".join(["time,ph,water", *ROWS[:60]]) + "\n", "--store", "pond.db").status == 0
    said = call("logbook", "account", *AT)
    assert said.status == 1
    assert "no account: the pond's volume is not known" in said.out


def test_what_the_shell_delivers_is_taken_from_the_account(filled: Path, call: Any) -> None:
    said = call("dose", "shell", *AT)
    assert said.status == 0
    assert "Beside what feed takes the pond has been gaining" in said.out
    assert "(the configuration)" in said.out


def test_the_review_says_it_in_half_a_sentence(filled: Path, call: Any) -> None:
    assert ". By the account KH is about 3." in call("review", "--from", "2026-06-09", "--to", "2026-06-15").out
