"""What does not arrive is seen: in `status`, in `alarms list`, from a running service and from the store."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.cli.post_rows import heartbeat_rows, post_rows
from dawnline.duration import DAY_MS
from dawnline.event import Delivered
from dawnline.letter import Letter
from dawnline.store.batch import Batch
from dawnline.store.store import Store

ZONE = ZoneInfo("Europe/Berlin")
AT = 1_781_035_200_000  # Tue 9 June 2026, 22:00 in Berlin


def test_where_all_arrives_nothing_is_said() -> None:
    assert post_rows({"open": 0, "failing": {}, "given_up": []}, ZONE) == []
    assert post_rows({}, ZONE) == []
    assert heartbeat_rows(None) == []


def test_what_waits_who_cannot_be_reached_and_what_was_given_up() -> None:
    lost = {"at": AT, "person": "Ada", "priority": "high", "subject": "Heron Lane: pH is low", "why": "550 nobody"}
    rows = post_rows({"open": 2, "failing": {"Bo": "no route"}, "given_up": [lost]}, ZONE)
    assert rows[0] == "messages not delivered yet: 2"
    assert rows[1] == "  Bo cannot be reached: no route"
    assert "check --notify" in rows[2]
    assert rows[3] == "  Tue 09 Jun 22:00  to Ada, high: Heron Lane: pH is low: 550 nobody"


def test_the_heartbeat_in_figures() -> None:
    beat = {"sent": 12, "failed": 2, "withheld": 1, "failing": ""}
    assert heartbeat_rows(beat) == ["heartbeat since the start: 12 taken, 2 failed, 1 withheld"]
    assert heartbeat_rows(beat | {"failing": "answered 500"})[0].endswith("; since then: answered 500")


def test_a_stopped_service_still_names_what_was_given_up(configure: Any, call: Any, folder: Path) -> None:
    configure('[[people]]\nname = "Ada"\naddresses = ["console:"]\n')
    row = Letter("k", AT, 1, "Ada", "console:", "high", "Heron Lane: pH is low", "6.4")
    with Store.open(folder / "pond.db", [("ph", "ph")]) as store:
        store.commit(Batch(letters=[row], cursor=AT))
        store.commit(Batch(outcomes=[Delivered("k", AT, "dead", "550 nobody")], cursor=AT + 1))
    for command in (("status",), ("alarms", "list")):
        assert "to Ada, high: Heron Lane: pH is low: 550 nobody" in call(*command).out, command


def test_check_speaks_of_what_was_given_up_lately_and_how_that_ends(
    configure: Any, call: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    configure('[[people]]\nname = "Ada"\naddresses = ["console:"]\n')
    row = Letter("k", AT, 1, "Ada", "console:", "high", "Heron Lane: pH is low", "6.4")
    with Store.open(folder / "pond.db", [("ph", "ph")]) as store:
        store.commit(Batch(letters=[row], cursor=AT))
        store.commit(Batch(outcomes=[Delivered("k", AT, "dead", "550 nobody")], cursor=AT + 1))
    for days, said in ((6, True), (8, False)):
        monkeypatch.setattr("dawnline.service.clock.PondClock.now", lambda _, days=days: AT + days * DAY_MS)
        out = call("check").out
        assert ("NOT WELL  outbox: 1 letter of the last seven days could not be delivered" in out) is said
        assert ("550 nobody. `check --notify` shows whether messages arrive now" in out) is said
        assert ("outbox" in out) is said
