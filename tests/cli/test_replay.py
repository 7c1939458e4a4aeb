"""`dawnline replay` against the interface contract."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dawnline.cli import main

CONFIG = """
[pond]
name = "Heron Lane"
latitude = 47.95
longitude = 8.21
timezone = "Europe/Berlin"
[store]
path = "pond.db"
[[probes]]
name = "ph"
quantity = "ph"
link = "serial"
port = "/dev/null"
[[probes]]
name = "water"
quantity = "temperature"
link = "serial"
port = "/dev/null"
"""
DAY_KEYS = {
    "event": str, "date": str, "probe": str, "dawn_low": (float, type(None)), "dawn_low_at": (str, type(None)),
    "dusk_high": (float, type(None)), "dusk_high_at": (str, type(None)), "swing": (float, type(None)),
    "mean": (float, type(None)), "minutes_below": float, "minutes_above": float, "coverage": float, "partial": bool,
}  # fmt: skip
ALARM_KEYS = {
    "event": str, "id": int, "time": str, "since": str, "alarm": str, "change": str, "priority": str,
    "probe": (str, type(None)), "value": (float, type(None)), "text": str,
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a configuration, and we are in it."""
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DAWNLINE_CONFIG", raising=False)
    return tmp_path


def rows(folder: Path, capsys: pytest.CaptureFixture[str], text: str, *words: str) -> tuple[int, list[dict[str, Any]]]:
    (folder / "in.csv").write_text(text, encoding="utf-8")
    status = main(["replay", "--json", "in.csv", *words])
    return status, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def week(days: int = 2, low_from: int | None = None, step_minutes: int = 5) -> str:
    """Local days of June, pH rising straight from 7.0 at midnight to 7.6 at noon and back; from a minute on, 6.2."""
    lines = ["time,ph,water"]
    for minute in range(0, days * 1440, step_minutes):
        day, hour, rest = 8 + minute // 1440, minute % 1440 // 60, minute % 60
        value = round(7.6 - abs(minute % 1440 - 720) / 1200, 4)
        if low_from is not None and minute >= low_from:
            value = 6.2
        lines.append(f"2026-06-{day:02d}T{hour:02d}:{rest:02d}:00+02:00,{value},18.5")
    return "\n".join(lines) + "\n"


def test_the_lines_have_the_keys_and_types_of_the_contract(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, found = rows(folder, capsys, week(3, low_from=2 * 1440 + 600))
    assert status == 0
    assert found[0].pop("version") == 1
    assert all("version" not in row for row in found)
    for row in found:
        keys: dict[str, Any] = {"day": DAY_KEYS, "alarm": ALARM_KEYS}.get(row["event"], {})
        assert not keys or list(row) == list(keys)
        assert all(isinstance(row[key], kind) for key, kind in keys.items()), row
    summary = found[-1]
    assert summary["event"] == "summary"
    assert summary["readings"] == 2 * 3 * 288 == summary["good"] + summary["suspect"]
    assert summary["alarms"] == sum(row.get("change") == "raised" for row in found) >= 1
    assert {"fail", "seconds"} <= set(summary)


def test_a_day_by_hand(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, found = rows(folder, capsys, week(2))
    day = found[0]
    assert (day["date"], day["probe"], day["partial"]) == ("2026-06-08", "ph", False)
    assert day["dawn_low"] == pytest.approx(7.0, abs=0.01)
    assert day["dusk_high"] == pytest.approx(7.6, abs=0.01)
    assert day["swing"] == pytest.approx(day["dusk_high"] - day["dawn_low"], abs=1e-4)
    assert day["mean"] == pytest.approx(7.3, abs=0.001)
    assert (day["minutes_below"], day["minutes_above"], day["coverage"]) == (0, 0, 1)
    assert day["dusk_high_at"].endswith("+02:00")
    assert found[-2]["partial"] is True
    assert found[-2]["date"] == "2026-06-09"


@pytest.mark.parametrize("step", [15, 60])
def test_slow_probes_raise_no_silence(folder: Path, capsys: pytest.CaptureFixture[str], step: int) -> None:
    _, found = rows(folder, capsys, week(3, step_minutes=step))
    assert [row for row in found if row["event"] == "alarm"] == []
    assert found[0]["coverage"] == 1


def test_what_cannot_be_used_is_a_problem_with_its_row(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = "time,ph,moon\n2026-06-08T00:00Z,7.1,full\n2026-06-08T00:01Z,wet,\n" + 2 * "2026-06-08T00:01Z,7.1,\n"
    status, found = rows(folder, capsys, text)
    assert status == 1
    problems = [row for row in found if row["event"] == "problem"]
    assert [(row["row"], type(row["text"])) for row in problems] == [(1, str), (3, str)]
    assert found[-1]["readings"] == 2
    assert found[-1]["repeated"] == 1


def test_an_ignored_column_alone_is_well(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert rows(folder, capsys, "time,ph,moon\n2026-06-08T00:00Z,7.1,full\n")[0] == 0


def test_acts_are_folded_in_at_their_time(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    acts = [
        {"time": "2026-06-08T11:00:00+02:00", "act": "acknowledge", "id": 1, "by": "ada"},
        {"time": "2026-06-08T09:00:00+02:00", "act": "water-change", "share": 0.15, "source_kh_dkh": 1.0},
        {"time": "2026-06-08T12:00:00+02:00", "act": "shelve", "id": 1, "for": "2h"},
    ]
    (folder / "acts.jsonl").write_text("\n".join(json.dumps(act) for act in acts) + "\n", encoding="utf-8")
    status, found = rows(folder, capsys, week(1, low_from=600), "--acts", "acts.jsonl")
    assert status == 0
    changes = [row["change"] for row in found if row.get("alarm") == "ph-low"]
    assert changes == ["raised", "acknowledged", "shelved", "unshelved"]


def test_acts_that_are_refused_name_file_and_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "acts.jsonl").write_text('{"time":"2026-06-08T11:00Z","act":"acknowledge","id":9}\n', encoding="utf-8")
    status, found = rows(folder, capsys, week(1), "--acts", "acts.jsonl")
    assert status == 1
    assert next(row["text"] for row in found if row["event"] == "problem").startswith(
        "acts, line 1: there is no open alarm 9"
    )
    for line in ("no json", '{"act":"note","note":"x"}', '{"time":"soon","act":"note"}', "[1]"):
        (folder / "acts.jsonl").write_text(line + "\n", encoding="utf-8")
        assert main(["replay", "in.csv", "--acts", "acts.jsonl"]) == 2
        assert "acts.jsonl: line 1" in capsys.readouterr().err


def test_a_filled_store_is_looked_at_and_gone_on_from(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows(folder, capsys, week(3, low_from=2 * 1440 + 600), "--store", "pond.db")
    assert main(["status", "--json"]) == 1
    now = json.loads(capsys.readouterr().out)
    assert (now["running"], now["alarms"][0]["alarm"]) == (False, "sudden-drop")
    assert main(["review", "--json"]) == 0
    review = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [row["date"] for row in review if row["event"] == "day"] == [
        "2026-06-08",
        "2026-06-09",
        "2026-06-10",
    ]
    assert main(["review", "--from", "2026-06-08", "--to", "2026-06-08"]) == 0
    assert "7.60 at 12:00" in capsys.readouterr().out
    assert main(["readings", "--csv", "out.csv"]) == 0
    capsys.readouterr()
    assert rows(folder, capsys, (folder / "out.csv").read_text(encoding="utf-8"))[1][-1]["readings"] == 2 * 3 * 288
    assert main(["replay", "in.csv", "--store", "pond.db"]) == 2
    assert "already holds a record" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: None, "cannot be read"),
        (lambda p: p.mkdir(), "cannot be read"),
        (lambda p: p.write_bytes(b""), "the file is empty"),
        (lambda p: p.write_bytes(bytes(range(256)) * 10), "row 1"),
    ],
)
def test_files_that_are_no_recording(folder: Path, capsys: pytest.CaptureFixture[str], make: Any, says: str) -> None:
    make(folder / "odd.csv")
    assert main(["replay", "odd.csv"]) == 2
    assert says in capsys.readouterr().err


def test_a_header_alone_is_well(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, found = rows(folder, capsys, "time,ph,water\n")
    assert (status, found[0]["event"], found[0]["readings"]) == (0, "summary", 0)


def test_the_plain_form_reads(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "in.csv").write_text(week(2, low_from=1440 + 600), encoding="utf-8")
    assert main(["replay", "in.csv"]) == 0
    out = capsys.readouterr().out
    assert "ph-low raised [ph]: pH 6.20, below 6.5" in out
    assert "Mon 2026-06-08" in out
    assert "(so far)" in out
