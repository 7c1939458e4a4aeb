"""The command line beside a running service, and after its end."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dawnline.service.now_file import file_name

from ..configuration import serial
from ..household import Cable
from ..machine import WAIT_S, until


@pytest.fixture
def probe(cable: Cable, configure: Any) -> Cable:
    """A probe on a pseudo-terminal; what is sent by it arrives at the service."""
    configure(probes=serial("ph", "ph", str(cable.path), 'key = "ph"'))
    return cable


@pytest.fixture
def filled(folder: Path, probe: Cable, replay: Any) -> int:
    """A store whose record ends just now, with an open alarm, whose number this is."""
    begun = datetime.now(UTC).replace(second=0, microsecond=0) - timedelta(minutes=300)
    rows = [f"{(begun + timedelta(minutes=m)).isoformat()},{7.2 if m < 240 else 6.2}" for m in range(299)]
    found = replay("\n".join(["time,ph", *rows]), "--json", "--store", "pond.db")
    assert (found.status, found.err) == (0, "")
    return int(next(row["id"] for row in found.lines if row.get("alarm") == "ph-low"))


def test_a_store_alone(filled: int, call: Any) -> None:
    found = call("status")
    assert found.status == 1
    assert found.out.startswith("Heron Lane: the service is not running; the record ends ")
    assert "pH 6.20" in found.out
    now = json.loads(call("status", "--json").out)
    assert (now["version"], now["running"], now["written_s_ago"], now["links"]) == (1, False, None, [])
    assert now["probes"]["ph"]["flag"] == "good"
    listed = json.loads(call("alarms", "list", "--json").out)
    assert (listed["version"], listed["running"]) == (1, False)
    assert filled in [row["id"] for row in listed["alarms"]]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "[" * 100_000,
        '{"written_at": 1}',
        '{"written_at": 9e9, "pid": "x"}',
        '{"written_at": 1, "pid": 1e99}',
        '{"written_at": 1, "pid": -1}',
        '{"written_at": 9e9, "pid": 1}',
    ],
)
def test_a_present_of_another_program_is_none(folder: Path, filled: int, call: Any, text: str) -> None:
    (folder / "runtime" / file_name(Path("pond.db"))).write_text(text, encoding="utf-8")
    assert call("status").out.startswith("Heron Lane: the service is not running; the record ends ")
    assert "fault" not in call("check").err


def test_an_act_waits_for_the_service(filled: int, call: Any, monkeypatch: pytest.MonkeyPatch, service: Any) -> None:
    monkeypatch.setattr("dawnline.cli.ask.WAIT_S", 0.05)
    found = call("alarms", "acknowledge", str(filled))
    assert (found.status, found.out) == (1, "")
    assert found.err.startswith("queued: the service is not running")
    service()
    until(lambda: "acknowledged" in call("alarms", "list").out)


def test_a_service_goes_on_from_a_replay_answers_and_dies(
    folder: Path, filled: int, probe: Cable, service: Any, call: Any
) -> None:
    process = service()
    until(lambda: '"running": true' in call("status", "--json").out)

    def heard() -> bool:
        probe.send(b"ph=6.21\n")
        return '"value": 6.21' in call("status", "--json").out

    until(heard)

    now = json.loads(call("status", "--json").out)
    assert now["written_s_ago"] < 15
    assert filled in [row["id"] for row in now["alarms"]]  # the alarm of the recording, going on
    assert call("status").status == 1  # nobody has it yet

    found = call("alarms", "acknowledge", str(filled))
    assert (found.status, found.out, found.err) == (0, "acknowledged\n", "")
    again = call("alarms", "acknowledge", str(filled))
    assert (again.status, again.out) == (1, "")
    assert again.err.startswith("refused: ")
    assert call("alarms", "acknowledge", "999").err.startswith("refused: there is no open alarm 999")
    assert call("alarms", "shelve", str(filled), "--for", "2h", "--why", "new pump").status == 0
    assert re.search(r"shelved by \S+ \(new pump\)", call("alarms", "list").out)
    assert call("alarms", "unshelve", str(filled)).status == 0
    assert ": unacknowledged since" in call("alarms", "list").out  # whoever had shelved it
    both = call("alarms", "acknowledge", str(filled), "999")
    assert both.status == 1
    assert both.out == f"{filled}: acknowledged\n"
    assert both.err.startswith("999: refused: ")

    assert call("logbook", "add", "note", "note=42").status == 0
    assert call("logbook", "add", "hand-test", "kh_dkh=3", "ph=7.25").status == 0
    listed = call("logbook", "list").out
    assert "note: 42 (" in listed
    assert "hand-test: KH 3 dKH, pH 7.25 (" in listed
    assert call("probes", "out-of-service", "ph", "--for", "30m").status == 0
    assert call("probes", "return", "ph").status == 0
    assert "well      service: process" in call("check").out
    assert "another dawnline process" in call("run").err

    process.kill()
    process.wait(WAIT_S)
    found = call("status")
    assert found.status == 1
    assert "Heron Lane: NOBODY WATCHES: the service last wrote" in found.out
    assert json.loads(call("status", "--json").out)["running"] is False
    assert call("alarms", "list").out.startswith("Heron Lane: NOBODY WATCHES")


def test_the_log_is_json_where_nobody_looks(folder: Path, filled: int, service: Any, call: Any) -> None:
    process = service()
    until(lambda: '"running": true' in call("status", "--json").out)
    process.terminate()
    assert process.wait(WAIT_S) == 0
    lines = (folder / "service.log").read_text(encoding="utf-8").splitlines()
    assert {json.loads(line)["event"] for line in lines} >= {"watching", "stopped"}
    assert call("status").out.startswith("Heron Lane: the service is not running")
