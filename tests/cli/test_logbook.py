"""The logbook on the command line: with a service, and without one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dawnline.store.inbox import Inbox, inbox_path

from ..machine import until


@pytest.fixture
def filled(folder: Path, replay: Any) -> Path:
    """A store with a rain in it."""
    rain = {"time": "2026-06-09T10:00:00+02:00", "act": "rain", "amount": "0.8 in", "by": "ada"}
    (folder / "acts.jsonl").write_text(json.dumps(rain), encoding="utf-8")
    assert replay("time,ph\n2026-06-09T12:00:00+02:00,7.1\n", "--store", "pond.db", "--acts", "acts.jsonl").status == 0
    return folder


def test_kinds_are_told_with_what_they_mean_and_take(call: Any) -> None:
    said = call("logbook", "kinds")
    assert said.status == 0
    assert 'kh="6 drops" or "6 dKH" or "107 ppm" or "2.1 meq/L"' in said.out
    assert "Part water change" in said.out or "A part water change" in said.out
    help_ = call("logbook", "add", "--help").out
    assert 'amount="20 mm" or "0.8 in"' in help_


def test_units_are_shown_as_the_configuration_sets(filled: Path, configure: Any, call: Any) -> None:
    assert "rain: 20.3 mm (ada)" in call("logbook", "list").out
    settings = (filled / "dawnline.toml").read_text(encoding="utf-8")
    (filled / "dawnline.toml").write_text(settings.replace("[pond]\n", '[pond]\nunits = "us"\n'), encoding="utf-8")
    assert "rain: 0.8 in (ada)" in call("logbook", "list").out


def test_what_is_queued_is_said_as_it_was_understood(filled: Path, call: Any) -> None:
    said = call("logbook", "add", "test", "6 drops", "ph=7,4")
    assert said.status == 1
    assert said.err.startswith(
        "queued: the service is not running; it takes this as soon as it can: hand-test: KH 6 dKH"
    )


def test_without_a_service_acts_wait_in_the_inbox_and_say_so(filled: Path, call: Any) -> None:
    (filled / "in.csv").write_text(
        "time,kind,amount,kh\n"
        "2026-06-09T10:00:00+02:00,rain,0.8 in,\n"  # stands already
        "2026-06-09T18:00:00+02:00,test,,6 drops\n"
        "2026-06-09T18:00:00+02:00,hand-test,,6 drops\n"  # twice in the file
        "2026-06-09T19:00:00+02:00,test,,6\n",
        encoding="utf-8",
    )
    said = call("logbook", "import", "in.csv")
    assert said.status == 1
    assert said.out == "0 taken, 2 doubles dropped, 1 bad rows, 0 refused\n"
    assert "in.csv: row 5: hand-test: kh: found '6' without a unit" in said.err
    assert "1 queued: the service is not running" in said.err
    assert call("logbook", "import", "in.csv").out.startswith("0 taken, 3 doubles")  # one of them waits
    with Inbox.open(inbox_path(filled / "pond.db")) as inbox:
        assert [(row.kind, row.body["kh_dkh"]) for row in inbox.pending()] == [("hand-test", 6.0)]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["correct", "99", "mm=3"], "found no entry '99'"),
        (["correct", "1"], "expected what is to be corrected"),
        (["correct", "1", "cm=3"], "unknown key 'cm'"),
        (["correct", "1", "amount=3"], "such as 20 mm or 0.8 in"),
        (["correct", "1", "mm="], "'mm' is missing"),
        (["withdraw", "x"], "found no entry 'x'"),
        (["import", "no-such.csv"], "cannot be read"),
        (["export", "no/such/folder.csv"], "cannot be written"),
    ],
)
def test_what_cannot_be_done_is_a_wrong_call_with_its_remedy(
    filled: Path, call: Any, words: list[str], says: str
) -> None:
    found = call("logbook", *words)
    assert found.status == 2
    assert says in found.err


def test_entries_are_added_corrected_withdrawn_and_carried_over(filled: Path, service: Any, call: Any) -> None:
    service()
    until(lambda: '"running": true' in call("status", "--json").out)
    added = call("logbook", "add", "test", "6 drops", "ph=7,4", "when=2026-06-09T18:00")
    assert (added.status, added.out) == (0, "noted as hand-test: KH 6 dKH (5 to 6 by drops), pH 7.4\n")
    number = json.loads(call("logbook", "list", "--json").out.splitlines()[-1])["entry"]

    corrected = call("logbook", "correct", str(number), "kh=5 drops", "ph=")
    assert corrected.status == 0
    assert corrected.out.endswith("now: hand-test: KH 5 dKH (4 to 5 by drops)\n")
    listed = call("logbook", "list").out.splitlines()
    assert len(listed) == 2
    assert "Tue 2026-06-09 18:00" in listed[1]
    assert listed[1].endswith("(corrected)")
    history = call("logbook", "list", "--history").out
    assert "corrected to hand-test: KH 5 dKH" in history

    table = call("logbook", "export", "-").out
    assert table.splitlines()[0] == "time,kind,by,kh_dkh,kh_step_dkh,mm"
    (filled / "out.csv").write_text(table, encoding="utf-8")
    again = call("logbook", "import", "out.csv")
    assert (again.status, again.out) == (0, "0 taken, 2 doubles dropped, 0 bad rows, 0 refused\n")

    assert call("logbook", "withdraw", "1", "--why", "it was the hose").status == 0
    assert "rain" not in call("logbook", "list").out
    assert "withdrawn" in call("logbook", "list", "--history").out
    assert "it was the hose" in call("logbook", "list", "--history").out
    assert call("logbook", "withdraw", "1").status == 2
    taken = call("logbook", "import", "out.csv")  # what was withdrawn stands no more, so its row is taken
    assert (taken.status, taken.out) == (0, "1 taken, 1 doubles dropped, 0 bad rows, 0 refused\n")
    assert call("logbook", "export", "-").out == table
