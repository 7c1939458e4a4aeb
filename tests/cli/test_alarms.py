"""`dawnline alarms` beyond what needs a service: explanations, the journal, the report."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from dawnline.catalogue_file import shipped


@pytest.fixture
def filled(folder: Any, replay: Any) -> int:
    """A store with an open alarm, whose number this is."""
    begun = datetime(2026, 6, 3, tzinfo=UTC)
    rows = [f"{(begun + timedelta(minutes=m)).isoformat()},{7.2 if m < 240 else 6.2}" for m in range(299)]
    found = replay("\n".join(["time,ph", *rows]), "--json", "--store", "pond.db")
    return int(next(row["id"] for row in found.lines if row.get("alarm") == "ph-low"))


@pytest.mark.parametrize("name", shipped())
def test_every_alarm_is_explained_in_the_words_of_its_message(folder: Any, call: Any, name: str) -> None:
    found, alarm = call("alarms", "explain", name), shipped()[name]
    assert (found.status, found.err) == (0, "")
    unfolded = " ".join(found.out.split())
    for text in (alarm.title, alarm.meaning, alarm.cause, alarm.consequence, alarm.time, alarm.sure, *alarm.steps):
        assert " ".join(text.replace("{probe}", "NAME").split()) in unfolded
    assert max(map(len, found.out.splitlines())) <= 100


def test_an_explanation_knows_what_the_keeper_set(folder: Any, call: Any) -> None:
    config = folder / "dawnline.toml"
    mine = '[alarms.ph-low]\npriority = "low"\non_delay = "45m"\n[texts]\nfile = "texts.toml"\n'
    config.write_text(config.read_text(encoding="utf-8") + mine, encoding="utf-8")
    (folder / "texts.toml").write_text('[alarm.ph-low]\ntitle = "pH zu tief"\n', encoding="utf-8")
    out = call("alarms", "explain", "ph-low").out
    assert out.startswith("ph-low: pH zu tief\nlow priority; raised after 45 min, over after 30 min")


def test_an_unknown_name_is_a_wrong_call(folder: Any, call: Any) -> None:
    found = call("alarms", "explain", "ph-lwo")
    assert (found.status, found.out) == (2, "")
    assert "did you mean ph-low?" in found.err


def test_an_open_alarm_is_explained_by_its_number(filled: int, call: Any) -> None:
    found = call("alarms", "explain", str(filled))
    assert found.status == 0
    assert found.out.lstrip().startswith(f"{filled}  high   ph-")
    assert "First steps:" in found.out
    missing = call("alarms", "explain", "999")
    assert missing.status == 1
    assert "there is no open alarm 999" in missing.err


def test_the_journal_has_every_move_with_its_reason(filled: int, call: Any) -> None:
    found = call("alarms", "journal")
    assert found.status == 0
    assert "normal -> unacknowledged (occur)" in found.out
    rows = [json.loads(line) for line in call("alarms", "journal", "--json").out.splitlines()]
    assert rows[0]["version"] == 1
    assert {"time", "alarm", "probe", "id", "move", "before", "after", "priority", "by", "reason"} <= rows[0].keys()
    assert any(row["move"] == "occur" and row["id"] == filled for row in rows)
    assert call("alarms", "journal", "--from", "2030-01-01").out == "no move in this time\n"


def test_the_report_holds_figures_against_guides(filled: int, call: Any) -> None:
    found = call("alarms", "report")
    assert found.status == 0
    assert "ISA-18.2" in found.out
    report = json.loads(call("alarms", "report", "--json").out)
    assert report["version"] == 1
    assert report["raised"] >= 1
    assert report["by_priority"]["high"] >= 1
    assert sum(report["by_alarm"].values()) == report["raised"]
    assert all({"measure", "found", "guide", "source"} <= row.keys() for row in report["guides"])


def test_a_report_of_a_time_without_alarms(filled: int, call: Any) -> None:
    found = call("alarms", "report", "--from", "2030-01-01", "--to", "2030-01-31")
    assert (found.status, found.err) == (0, "")
    assert "no alarm was raised" in found.out
    wrong = call("alarms", "report", "--from", "2030-02-01", "--to", "2030-01-31")
    assert wrong.status == 2
    assert "expected the earlier one first" in wrong.err
