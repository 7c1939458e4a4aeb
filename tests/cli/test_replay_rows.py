"""Rows that replay can and cannot use: what is said, what is kept, and how it ends."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

DAY = "2026-06-08T"


def problems(found: Any) -> list[tuple[int, str]]:
    return [(row["row"], row["text"]) for row in found.lines if row["event"] == "problem"]


def summary(found: Any) -> dict[str, Any]:
    last: dict[str, Any] = found.lines[-1]
    assert last["event"] == "summary"
    return last


def test_a_column_that_names_no_probe_is_said_once_and_is_well(replay: Any) -> None:
    found = replay(f"time,ph,moon\n{DAY}00:00Z,7.1,full\n{DAY}00:01Z,7.1,new\n", "--json")
    assert found.status == 0
    ((row, text),) = problems(found)
    assert row == 1
    assert "'moon'" in text
    assert "there are: ph, water" in text
    assert summary(found)["problems"] == 0


def test_a_cell_that_is_no_number_loses_nothing_else(replay: Any) -> None:
    found = replay(f"time,ph,water\n{DAY}00:00Z,wet,18\n{DAY}00:01Z,7.1,\n{DAY}00:02Z,nan,1e999\n", "--json")
    assert found.status == 1
    assert [row for row, _ in problems(found)] == [2, 4, 4]
    assert "ph: found 'wet', expected a number" in problems(found)[0][1]
    assert (summary(found)["readings"], summary(found)["problems"]) == (2, 3)


def test_a_decimal_comma_is_named(replay: Any) -> None:
    assert "found '7,1', expected a number with a point, 7.1;" in replay(f'time,ph\n{DAY}00:00Z,"7,1"\n').err


@pytest.mark.parametrize(("mark", "says"), [(";", "not semicolons"), ("\t", "not tabs")])
def test_other_marks_between_the_columns_are_named(replay: Any, mark: str, says: str) -> None:
    found = replay(f"time{mark}ph\n{DAY}00:00Z{mark}7,1\n")
    assert found.status == 2
    assert f"save it with commas between the columns, {says}" in found.err


def test_in_the_plain_form_problems_go_to_standard_error(replay: Any) -> None:
    found = replay(f"time,ph\n{DAY}00:00Z,wet\n")
    assert found.status == 1
    assert found.err.startswith("row 2: ph: found 'wet'")


@pytest.mark.parametrize(
    ("time", "says"),
    [
        ("yesterday", "expected ISO 8601"),
        ("", "expected ISO 8601"),
        ("2026-03-29T02:30", "does not exist"),
        ("2026-10-25T02:30", "comes twice"),
        ("1812-06-08T00:00Z", "out of range"),
    ],
)
def test_a_time_that_cannot_be_used_names_its_row(replay: Any, time: str, says: str) -> None:
    found = replay(f"time,ph\n{time},7.1\n", "--json")
    assert found.status == 1
    ((row, text),) = problems(found)
    assert row == 2
    assert says in text


def test_the_order_settles_a_time_that_comes_twice(replay: Any, call: Any) -> None:
    rows = ["2026-10-25T01:50,7.0", "2026-10-25T02:30,7.1", "2026-10-25T02:50,7.2", "2026-10-25T02:10,7.3"]
    found = replay("time,ph\n" + "\n".join(rows), "--json", "--store", "pond.db")
    assert (found.status, problems(found)) == (0, [])
    assert [line.split(",")[0][-14:] for line in call("readings", "--csv", "-").out.splitlines()[1:]] == [
        "01:50:00+02:00", "02:30:00+02:00", "02:50:00+02:00", "02:10:00+01:00",
    ]  # fmt: skip


def test_a_repeat_is_dropped_and_another_value_is_suspect(replay: Any) -> None:
    found = replay(f"time,ph\n{DAY}00:00Z,7.1\n{DAY}00:01Z,7.1\n{DAY}00:01Z,7.1\n{DAY}00:01Z,7.3\n", "--json")
    assert found.status == 0
    assert {key: summary(found)[key] for key in ("readings", "good", "suspect", "repeated")} == {
        "readings": 3, "good": 2, "suspect": 1, "repeated": 1,
    }  # fmt: skip


def test_a_late_row_is_kept_flagged_and_reopens_no_day(replay: Any, call: Any) -> None:
    first = [f"{DAY}{m // 60:02d}:{m % 60:02d}:00Z,{7.0 + abs(m - 720) / 7200:.2f}" for m in range(0, 1440, 10)]
    second = [row.replace("-08T", "-09T") for row in first[:60]]
    found = replay("time,ph\n" + "\n".join([*first, *second, f"{DAY}03:05:00Z,6.0"]), "--json", "--store", "pond.db")
    assert found.status == 0
    days = [row for row in found.lines if row["event"] == "day"]
    assert [(day["date"], day["partial"]) for day in days] == [("2026-06-08", False), ("2026-06-09", True)]
    assert summary(found)["readings"] == len(first) + len(second) + 1
    assert summary(found)["good"] == len(first) + len(second)
    assert "2026-06-08T05:05:00+02:00,6.0," in call("readings", "--csv", "-").out


def test_windows_line_ends_and_a_byte_order_mark(replay: Any) -> None:
    found = replay(f"\ufefftime,ph\r\n{DAY}00:00Z,7.1\r\n\r\n{DAY}00:01Z,7.1\r\n", "--json")
    assert (found.status, problems(found), summary(found)["readings"]) == (0, [], 2)


def test_a_row_of_a_megabyte_costs_only_itself(replay: Any) -> None:
    found = replay(f"time,ph\n{DAY}00:00Z,7.1\n{DAY}00:01Z,{'7' * 1_000_000}\n{DAY}00:02Z,7.1\n", "--json")
    assert found.status == 1
    assert [row for row, _ in problems(found)] == [3]
    assert len(problems(found)[0][1]) < 300
    assert summary(found)["readings"] == 2


def test_a_header_alone_is_well(replay: Any) -> None:
    found = replay("time,ph,water\n", "--json")
    assert found.status == 0
    assert found.lines[0].pop("version") == 1
    assert summary(found)["readings"] == 0


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "cannot be read (No such file"),
        (lambda path: path.mkdir(), "cannot be read (Is a directory"),
        (lambda path: path.write_bytes(b""), "the file is empty"),
        (lambda path: path.write_bytes(bytes(range(256)) * 10), "row 1"),
        (lambda path: path.write_text("zeit;ph\n1;2\n"), "one column `time`"),
        (lambda path: path.write_text("time,ph,ph\n"), "twice"),
    ],
)
def test_a_file_that_is_no_recording_is_a_wrong_call(
    folder: Path, call: Any, make: Callable[[Path], object], says: str
) -> None:
    make(folder / "odd.csv")
    found = call("replay", "odd.csv")
    assert found.status == 2
    assert says in found.err
    assert found.out == ""
