from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from dawnline.errors import InputError, StoreError
from dawnline.store import inbox as room
from dawnline.store.inbox import Inbox, inbox_path

CALLER = """
import sys
from pathlib import Path
from dawnline.store.inbox import Inbox
with Inbox.open(Path(sys.argv[1])) as inbox:
    ids = [inbox.submit("note", {"from": sys.argv[2], "i": i}, sys.argv[2]) for i in range(10)]
    print([inbox.wait(act_id, 20) for act_id in ids] == [(True, f"{sys.argv[2]} {i}") for i in range(10)])
"""


@pytest.fixture
def where(path: Path) -> Path:
    return inbox_path(path)


def test_an_act_waits_until_it_is_answered_and_the_first_verdict_stands(where: Path) -> None:
    with Inbox.open(where) as caller, Inbox.open(where) as service:
        first = caller.submit("water-change", {"share": 0.15, "why": "ü"}, "ada")
        second = caller.submit("acknowledge", {"id": 7}, "")
        assert service.pending() == [
            (first, "water-change", {"share": 0.15, "why": "ü"}, "ada"),
            (second, "acknowledge", {"id": 7}, ""),
        ]
        assert caller.verdict(first) is None
        assert caller.wait(first, 0.0) is None
        service.answer(first, False, "there is no such probe")
        service.answer(first, True, "second thoughts")
        assert caller.wait(first, 60.0) == (False, "there is no such probe")
        assert [p.id for p in service.pending()] == [second]
        assert caller.verdict("unknown") is None


def test_a_caller_that_waits_sees_the_answer_of_another_thread(where: Path) -> None:
    with Inbox.open(where) as caller:
        act_id = caller.submit("note", {}, "ada")

        def answer() -> None:
            with Inbox.open(where) as service:
                service.answer(act_id, True, "noted")

        thread = threading.Thread(target=answer)
        thread.start()
        assert caller.wait(act_id, 60.0) == (True, "noted")
        thread.join()


def test_two_processes_at_once(where: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    callers = [  # they create the file themselves, both at once
        subprocess.Popen(
            [sys.executable, "-c", CALLER, str(where), name],
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )
        for name in ("ada", "bo")
    ]
    answered = 0
    with Inbox.open(where) as service:
        while answered < 20 and any(caller.poll() is None for caller in callers):
            for act in service.pending():
                service.answer(act.id, True, f"{act.body['from']} {act.body['i']}")
                answered += 1
    assert [caller.communicate()[0].strip() for caller in callers] == ["True", "True"]


def test_too_many_are_refused_until_some_are_answered(where: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "MAX_PENDING", 3)
    with Inbox.open(where) as inbox:
        ids = [inbox.submit("note", {"i": i}, "ada") for i in range(3)]
        with pytest.raises(InputError, match="3 acts wait already: start the service"):
            inbox.submit("note", {}, "ada")
        inbox.answer(ids[0], True, "noted")
        inbox.submit("note", {}, "ada")
        assert len(inbox.pending()) == 3


def test_old_verdicts_are_forgotten_and_waiting_acts_are_not(where: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "KEPT_VERDICTS", 2)
    with Inbox.open(where) as inbox:
        patient = inbox.submit("note", {}, "ada")
        ids = [inbox.submit("note", {"i": i}, "ada") for i in range(4)]
        for act_id in ids:
            inbox.answer(act_id, True, "noted")
        assert [inbox.verdict(act_id) for act_id in ids] == [None, None, (True, "noted"), (True, "noted")]
        assert [p.id for p in inbox.pending()] == [patient]


nested: list[object] = []
for _ in range(100_000):
    nested = [nested]


@pytest.mark.parametrize(
    ("kind", "body", "actor", "says"),
    [
        ("note", {"text": "x" * 65536}, "ada", "at most 65536"),
        ("note", {"when": object()}, "ada", "cannot be written as JSON"),
        ("note", {"deep": nested}, "ada", "cannot be written as JSON"),
        ("n" * 201, {}, "ada", "at most 200"),
        ("note", {}, "a" * 201, "at most 200"),
        ("note\ud800", {}, "ada", "half a character"),
        ("note", {}, "ada\udcff", "half a character"),
        (
            "note",
            {"note": ["her\ud800ons"]},
            "ada",
            r"'note': .*her.+ud800ons.*half a character in it",
        ),
        ("note", {"\udfff": 1}, "ada", "half a character"),
    ],
)
def test_what_is_too_large_or_no_json_is_refused(
    where: Path, kind: str, body: dict[str, object], actor: str, says: str
) -> None:
    with Inbox.open(where) as inbox:
        with pytest.raises(InputError, match=says):
            inbox.submit(kind, body, actor)
        assert inbox.pending() == []


def test_an_unreadable_body_is_refused_and_the_others_go_on(where: Path) -> None:
    with Inbox.open(where) as inbox:
        ids = [inbox.submit("note", {"i": i}, "ada") for i in range(3)]
        for act_id, body in zip(ids[:2], ("[1]", "{"), strict=True):
            inbox._db.execute("UPDATE acts SET body = ? WHERE id = ?", (body, act_id))
        assert [p.id for p in inbox.pending()] == ids[2:]
        assert inbox.verdict(ids[0]) == (False, "its body is no JSON object")


def test_text_that_is_none_ends_nothing(where: Path) -> None:
    with Inbox.open(where) as inbox:
        ids = [inbox.submit("note", {"i": i}, "ada") for i in range(3)]
        for act_id, column in zip(ids[:2], ("body", "kind"), strict=True):
            inbox._db.execute(f"UPDATE acts SET {column} = CAST(x'6eff' AS TEXT) WHERE id = ?", (act_id,))
        assert [(p.id, p.kind) for p in inbox.pending()] == [(ids[1], "n\ufffd"), (ids[2], "note")]
        assert inbox.verdict(ids[0]) == (False, "its body is no JSON object")


def test_owner_and_group_may_use_it_as_the_umask_allows(tmp_path: Path) -> None:
    before = os.umask(0o007)
    try:
        Inbox.open(tmp_path / "a.inbox.db").close()
        os.umask(0o077)
        Inbox.open(tmp_path / "b.inbox.db").close()
    finally:
        os.umask(before)
    assert [(tmp_path / name).stat().st_mode & 0o777 for name in ("a.inbox.db", "b.inbox.db")] == [
        0o660,
        0o600,
    ]


def test_a_file_that_is_no_inbox_is_refused(where: Path, tmp_path: Path) -> None:
    where.write_bytes(b"time,ph\n" * 1000)
    with pytest.raises(StoreError, match=r"heron-lane\.inbox\.db: it is no SQLite database"):
        Inbox.open(where)
    db = sqlite3.connect(tmp_path / "other.db")
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    with pytest.raises(StoreError, match="another kind"):
        Inbox.open(tmp_path / "other.db")
    with pytest.raises(StoreError, match="cannot be opened"):
        Inbox.open(tmp_path / "missing" / "s.inbox.db")
