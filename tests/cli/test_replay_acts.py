"""Acts beside a recording: folded in at their time, and refused with their line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

MORNING = "2026-06-08T{:02d}:00:00+02:00"
ROWS = "time,ph\n" + "".join(
    f"2026-06-08T{m // 60:02d}:{m % 60:02d}:00+02:00,{7.2 if m < 600 else 6.2}\n" for m in range(0, 1440, 5)
)


@pytest.fixture
def with_acts(folder: Path, replay: Any) -> Any:
    """`with_acts(*lines)` replays a day, low from ten o'clock on, with these lines (or objects) as its acts."""

    def run(*lines: object) -> Any:
        text = "\n".join(line if isinstance(line, str) else json.dumps(line) for line in lines)
        (folder / "acts.jsonl").write_text(text, encoding="utf-8")
        return replay(ROWS, "--json", "--acts", "acts.jsonl")

    return run


def changes(found: Any, alarm: str = "ph-low") -> list[tuple[str, str]]:
    return [(row["change"], row["time"][11:16]) for row in found.lines if row.get("alarm") == alarm]


def id_of(found: Any, alarm: str = "ph-low") -> int:
    return int(next(row["id"] for row in found.lines if row.get("alarm") == alarm))


def test_acts_take_effect_at_their_time_in_whatever_order_they_stand(with_acts: Any) -> None:
    number = id_of(with_acts())
    found = with_acts(
        {"time": MORNING.format(13), "act": "shelve", "id": number, "for": "2h"},
        {"time": MORNING.format(12), "act": "acknowledge", "id": number, "by": "ada"},
        {"time": MORNING.format(9), "act": "hand-test", "kh_dkh": 3},
        "",
    )
    assert found.status == 0
    assert changes(found)[1:] == [("acknowledged", "12:00"), ("shelved", "13:00"), ("unshelved", "15:00")]
    assert changes(found)[0][0] == "raised"


def test_a_probe_out_of_service_raises_nothing(with_acts: Any) -> None:
    found = with_acts({"time": MORNING.format(9), "act": "out-of-service", "probe": "ph", "for": "20h"})
    assert found.status == 0
    assert [row for row in found.lines if row.get("change") == "raised" and row["probe"] == "ph"] == []


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("no json", "expected one JSON object"),
        ("[1]", "expected one JSON object"),
        ("[" * 100_000, "expected one JSON object"),
        ('{"act": "note", "note": "x"}', "expected a text under 'time'"),
        ('{"time": 5, "act": "note", "note": "x"}', "expected a text under 'time'"),
        ('{"time": "soon", "act": "note", "note": "x"}', "ISO 8601"),
        ('{"time": "0001-01-01T00:00:00", "act": "note", "note": "x"}', "acts.jsonl, line 2"),
        ('{"time": "1812-01-01T00:00:00Z", "act": "note", "note": "x"}', "1970 to 2100"),
        ('{"time": "2026-06-08T12:00:00Z"}', "expected a text under 'act'"),
        ('{"time": "2026-06-08T12:00:00Z", "act": "cleanin", "probe": "ph"}', "did you mean 'cleaning'"),
        ('{"time": "2026-06-08T12:00:00Z", "act": "acknowledge", "id": 99}', "there is no open alarm 99"),
        ('{"time": "2026-06-08T12:00:00Z", "act": "cleaning", "probe": "moon"}', "no probe is named 'moon'"),
        ('{"time": "2026-06-08T12:00:00Z", "act": "water-change"}', "share"),
    ],
)
def test_an_act_that_cannot_be_used_names_file_and_line_and_costs_only_itself(
    with_acts: Any, line: str, says: str
) -> None:
    found = with_acts({"time": MORNING.format(9), "act": "note", "note": "a heron"}, line)
    assert found.status == 1
    (problem,) = [row for row in found.lines if row["event"] == "problem"]
    assert problem["row"] == 2
    assert problem["text"].startswith("acts.jsonl, line 2: ")
    assert says in problem["text"]
    assert len(problem["text"]) < 400
    assert found.lines[-1]["readings"] == 288


def test_in_the_plain_form_an_act_is_named_by_its_file(folder: Path, replay: Any) -> None:
    (folder / "acts.jsonl").write_text("no json\n", encoding="utf-8")
    assert replay(ROWS, "--acts", "acts.jsonl").err.startswith("acts.jsonl, line 1: found 'no json'")


@pytest.mark.parametrize("name", ["no-such-file", "runtime", "binary"])
def test_a_file_of_acts_that_cannot_be_read_is_a_wrong_call(folder: Path, replay: Any, name: str) -> None:
    (folder / "binary").write_bytes(bytes(range(256)))
    found = replay(ROWS, "--acts", name)
    assert found.status == 2
    assert f"{name}: cannot be read" in found.err


def test_acts_without_readings(folder: Path, replay: Any) -> None:
    act = {"time": MORNING.format(9), "act": "note", "note": "a heron"}
    (folder / "acts.jsonl").write_text(json.dumps(act), encoding="utf-8")
    assert replay("time,ph\n", "--acts", "acts.jsonl").status == 0
