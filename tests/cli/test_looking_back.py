"""`readings`, `review` and `logbook list` on a store that replay filled."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.store import Store

SLIP = 4_070_908_800_000  # 2099-01-01

ROWS = [
    f"2026-06-{day:02d}T{m // 60:02d}:{m % 60:02d}:00+02:00,{7.6 - abs(m - 720) / 1200:.4f},18.5"
    for day in (8, 9, 10)
    for m in range(0, 1440, 10)
]
RECORDING = "\n".join(["time,ph,water", *ROWS]) + "\n"


@pytest.fixture
def filled(folder: Path, replay: Any) -> Path:
    """A store with three days."""
    act = {"time": "2026-06-09T10:00:00+02:00", "act": "hand-test", "kh_dkh": 3, "by": "ada"}
    (folder / "acts.jsonl").write_text(json.dumps(act), encoding="utf-8")
    assert replay(RECORDING, "--store", "pond.db", "--acts", "acts.jsonl").status == 0
    return folder


def files(folder: Path) -> dict[str, bytes]:
    """What lies in the folder; SQLite's own -wal and -shm come and go with each reader."""
    names = [path for path in folder.iterdir() if path.is_file() and not path.name.endswith(("-wal", "-shm"))]
    return {path.name: path.read_bytes() for path in names}


# ------------------------------------------------------------ the store that replay fills


def test_a_store_that_holds_a_record_is_refused(filled: Path, replay: Any) -> None:
    before = (filled / "pond.db").read_bytes()
    found = replay(RECORDING, "--store", "pond.db")
    assert found.status == 2
    assert "pond.db: already holds a record" in found.err
    assert (filled / "pond.db").read_bytes() == before


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        (".", 2, "found a directory"),
        ("", 2, "found a directory"),
        ("nowhere/pond.db", 1, "check that the folder exists"),
        ("dawnline.toml", 1, "it is no SQLite database"),
    ],
)
def test_a_place_where_no_store_can_be(folder: Path, replay: Any, path: str, status: int, says: str) -> None:
    before = (folder / "dawnline.toml").read_bytes()
    found = replay(RECORDING, "--store", path)
    assert (found.status, found.out) == (status, "")
    assert says in found.err
    assert (folder / "dawnline.toml").read_bytes() == before


def test_replay_alone_touches_no_store(folder: Path, replay: Any) -> None:
    replay(RECORDING)
    assert sorted(path.name for path in folder.iterdir()) == ["dawnline.toml", "in.csv", "runtime"]


def test_a_replay_that_is_broken_off_says_what_is_in_the_store(replay: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("dawnline.cli.replay.PlainReport.show_problem", interrupted)
    many = [row.replace("2026-06-08", f"2026-06-{day:02d}") for day in range(8, 18) for row in ROWS[:144]]
    rows = ["time,ph,water", *many, "2026-06-18T00:00:00+02:00,wet,"]
    found = replay("\n".join(rows), "--store", "pond.db")
    assert found.status == 130
    assert found.err == "pond.db: holds only a part of the recording now: delete it before you try again\n"


# ------------------------------------------------------------ readings


def test_what_was_recorded_comes_back(filled: Path, call: Any, replay: Any) -> None:
    assert call("readings", "--csv", "out.csv").out == f"{len(ROWS)} rows written to out.csv\n"
    again = (filled / "out.csv").read_text(encoding="utf-8")
    assert [line.split(",")[0] for line in again.splitlines()[1:]] == [row.split(",")[0] for row in ROWS]
    once, twice = replay(RECORDING, "--json").lines, replay(again, "--json").lines
    assert once[:-1] == twice[:-1]
    assert call("readings", "--csv", "-").out == again


def test_a_time_in_the_future_that_a_sender_made_up_moves_nothing(filled: Path, call: Any) -> None:
    status, review = call("status", "--json").lines[0]["probes"], call("review").out
    with Store.open(filled / "pond.db", [("ph", "ph"), ("water", "temperature")]) as store:
        store.commit(Batch([Reading("water", SLIP, 9.0, 1, Flag.NOT_EVALUATED, Reason.AHEAD_OF_CLOCK)]))
    assert call("readings", "--csv", "out.csv").out == f"{len(ROWS)} rows written to out.csv\n"
    assert call("review").out == review
    assert [probe["value"] for probe in call("status", "--json").lines[0]["probes"].values()] == [
        probe["value"] for probe in status.values()
    ]


def test_milliseconds_and_odd_numbers_come_back(folder: Path, replay: Any, call: Any) -> None:
    rows = ["2026-06-08T00:00:00.001+02:00,7.1,", "2026-06-08T00:00:00.999+02:00,7.123456789012345,18.5"]
    replay("\n".join(["time,ph,water", *rows]), "--store", "pond.db")
    assert call("readings", "--csv", "-").out.splitlines() == ["time,ph,water", *rows]


@pytest.mark.parametrize(
    ("words", "first", "last", "rows"),
    [
        (["--from", "2026-06-09"], "2026-06-09T00:00", "2026-06-10T23:50", 288),
        (["--to", "2026-06-09"], "2026-06-08T00:00", "2026-06-09T23:50", 288),
        (["--from", "2026-06-09", "--to", "2026-06-09"], "2026-06-09T00:00", "2026-06-09T23:50", 144),
        (["--from", "2026-06-09T12:00:00+02:00"], "2026-06-09T12:00", "2026-06-10T23:50", 216),
        (["--to", "2026-06-08T01:00"], "2026-06-08T00:00", "2026-06-08T00:50", 6),  # the end itself is not included
    ],
)
def test_a_stretch_of_it(filled: Path, call: Any, words: list[str], first: str, last: str, rows: int) -> None:
    lines = call("readings", "--csv", "-", *words).out.splitlines()[1:]
    assert (lines[0][:16], lines[-1][:16], len(lines)) == (first, last, rows)


def test_the_readings_of_a_probe_that_left_are_not_lost(filled: Path, configure: Any, call: Any) -> None:
    configure(probes='[[probes]]\nname = "water"\nquantity = "temperature"\nlink = "serial"\nport = "/dev/a"\n')
    out = call("readings", "--csv", "-").out.splitlines()
    assert out[0] == "time,water,ph"
    assert out[1] == "2026-06-08T00:00:00+02:00,18.5,7.0"


@pytest.mark.parametrize("name", ["dawnline.toml", "pond.db", "pond.db-wal", "./pond.db"])
def test_it_writes_over_no_file_of_the_pond(filled: Path, call: Any, name: str) -> None:
    before = files(filled)
    found = call("readings", "--csv", name)
    assert found.status == 2
    assert "is a file of this pond itself" in found.err
    assert files(filled) == before


@pytest.mark.parametrize("name", ["nowhere/out.csv", "runtime"])
def test_a_file_that_cannot_be_written(filled: Path, call: Any, name: str) -> None:
    found = call("readings", "--csv", name)
    assert found.status == 2
    assert f"{name}: cannot be written" in found.err


# ------------------------------------------------------------ review


def test_the_days_as_the_contract_has_them(filled: Path, call: Any, replay: Any) -> None:
    head, *rows = call("review", "--json").lines
    assert head == {"event": "review", "version": 1, "pond": "Heron Lane", "from": "2026-06-04", "to": "2026-06-10"}
    days = [row for row in rows if row["event"] == "day"]
    live = [row for row in replay(RECORDING, "--json").lines if row["event"] == "day"]
    live[0].pop("version", None)  # where a day comes first of all
    assert not any(row.pop("doubted") for row in days)  # which only looking back can tell
    assert days == live  # the running day as well


def test_the_running_day_is_the_same_without_a_checkpoint(filled: Path, call: Any) -> None:
    with_it = call("review", "--json").lines
    with sqlite3.connect(filled / "pond.db") as db:
        db.execute("DELETE FROM checkpoint")
    db.close()
    days = [[row for row in lines if row["event"] == "day"] for lines in (with_it, call("review", "--json").lines)]
    assert days[0] == days[1]
    assert days[0][-1]["partial"] is True


def test_a_review_for_people(filled: Path, call: Any) -> None:
    out = call("review", "--from", "2026-06-08", "--to", "2026-06-08").out
    assert out.startswith("Heron Lane, 2026-06-08 to 2026-06-08\n")
    assert "7.59 at 12:00" in out
    assert "▁" in out
    assert "no alarms" in out
    assert "2026-06-09" not in out


def test_days_without_a_record(filled: Path, call: Any) -> None:
    found = call("review", "--from", "2026-07-01", "--to", "2026-07-07")
    assert found.status == 0
    assert "no days yet" in found.out
    said = call("review", "--json", "--from", "2026-07-01", "--to", "2026-07-07").lines
    assert [each["event"] for each in said] == ["review", "sentence"]
    assert said[1]["text"] == "Nothing was recorded on these days."


def test_a_store_without_a_record(folder: Path, replay: Any, call: Any) -> None:
    replay("time,ph\n", "--store", "pond.db")
    found = call("review")
    assert (found.status, found.out, found.err) == (1, "", "nothing has been recorded yet\n")
    found = call("review", "--json")
    assert (found.status, found.lines[0]["from"]) == (1, None)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--from", "soon"], "expected a date from 1970 to 2100"),
        (["--from", "2026-06-09", "--to", "2026-06-08"], "expected the earlier day first"),
        (["--from", "2026-12-01"], "expected the earlier day first"),
    ],
)
def test_a_review_of_no_days(filled: Path, call: Any, words: list[str], says: str) -> None:
    found = call("review", *words)
    assert found.status == 2
    assert says in found.err


# ------------------------------------------------------------ logbook


def test_the_logbook_lists_what_was_done(filled: Path, call: Any) -> None:
    line = "Tue 2026-06-09 10:00     1  hand-test: KH 3 dKH (ada)\n"
    assert call("logbook", "list").out == line
    assert call("logbook", "list", "--from", "2026-06-09", "--to", "2026-06-09").out == line
    assert call("logbook", "list", "--from", "2026-06-10").out == ""
    assert "nothing is written down" in call("logbook", "list", "--from", "2026-06-10").err
    assert call("logbook", "list", "--from", "2026-06-10", "--json").err == ""


def test_what_somebody_wrote_stays_in_its_line(folder: Path, replay: Any, call: Any) -> None:
    act = {"time": "2026-06-09T10:00:00+02:00", "act": "note", "note": "a heron\n\x1b[31mred", "by": "a\u0085b"}
    (folder / "acts.jsonl").write_text(json.dumps(act, ensure_ascii=False), encoding="utf-8")
    assert replay("time,ph\n", "--store", "pond.db", "--acts", "acts.jsonl").status == 0
    assert call("logbook", "list").out == "Tue 2026-06-09 10:00     1  note: a heron  [31mred (a b)\n"
