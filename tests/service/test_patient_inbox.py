from __future__ import annotations

import sqlite3
from pathlib import Path

from structlog.testing import capture_logs

from dawnline.service.patient_inbox import PatientInbox
from dawnline.store.inbox import Inbox


def test_what_waits_is_taken_and_answered(tmp_path: Path) -> None:
    path = tmp_path / "pond.inbox.db"
    with PatientInbox(path) as inbox, Inbox.open(path) as caller:
        assert inbox.pending() == []
        act_id = caller.submit("note", {"note": "herons"}, "ada")
        assert [row.id for row in inbox.pending()] == [act_id]
        inbox.answer(act_id, True, "noted")
        assert caller.verdict(act_id) == (True, "noted")
        assert inbox.pending() == []


def test_a_file_that_cannot_be_used_is_said_once_and_tried_again(tmp_path: Path) -> None:
    path = tmp_path / "pond.inbox.db"
    path.write_bytes(b"garbage " * 200)
    with capture_logs() as logged, PatientInbox(path, retry_s=0.0) as inbox:
        assert inbox.pending() == inbox.pending() == []
        assert "no SQLite database" in inbox.failing
        path.unlink()
        with Inbox.open(path) as caller:
            caller.submit("note", {"note": "herons"}, "ada")
        assert len(inbox.pending()) == 1
        assert inbox.failing == ""
    assert [row["event"] for row in logged] == ["inbox-unusable", "inbox-well-again"]


def test_it_is_left_alone_for_a_while(tmp_path: Path) -> None:
    path = tmp_path / "pond.inbox.db"
    path.write_bytes(b"garbage " * 200)
    with PatientInbox(path, retry_s=1000.0) as inbox:
        assert inbox.pending() == []
        path.unlink()
        assert inbox.pending() == []
    assert not path.exists()


def test_a_verdict_that_could_not_be_written_is_asked_for_again(tmp_path: Path) -> None:
    path = tmp_path / "pond.inbox.db"
    with Inbox.open(path) as caller:
        act_id = caller.submit("note", {"note": "herons"}, "ada")
    with PatientInbox(path, retry_s=0.0) as inbox:
        assert len(inbox.pending()) == 1
        db = sqlite3.connect(path)
        db.execute("CREATE TRIGGER refuse BEFORE UPDATE ON acts BEGIN SELECT RAISE(ABORT, 'no'); END")
        db.commit()
        inbox.answer(act_id, True, "noted")
        assert inbox.failing
        db.execute("DROP TRIGGER refuse")
        db.commit()
        db.close()
        assert [row.id for row in inbox.pending()] == [act_id]
        inbox.answer(act_id, True, "noted")
        assert inbox.pending() == []
