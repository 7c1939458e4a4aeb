"""The inbox: acts from the command line and the page, a small file of its own beside the store.

Any process may put an act in and wait for its verdict; only the service takes them out. It answers after the
store has committed the act, so an act found here and in the store was decided before a power cut: the service
answers it from `Store.act_verdict`.
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
import uuid
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple, Self

from dawnline.errors import InputError
from dawnline.store.connection import leave_to_owner, not_too_small
from dawnline.store.failure import explained
from dawnline.store.schema import Migration, migrate

MAX_PENDING = 1000
MAX_BODY_BYTES = 64 * 1024
MAX_WORD_CHARACTERS = 200  # of a kind, of an actor
KEPT_VERDICTS = 1000
POLL_S = 0.05

APPLICATION_ID = 0x64776E69
MIGRATIONS = (
    Migration(
        "first table",
        (
            """CREATE TABLE acts (
                seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, body TEXT NOT NULL,
                actor TEXT NOT NULL, accepted INTEGER, text TEXT) STRICT""",
            """CREATE INDEX acts_pending ON acts (seq) WHERE accepted IS NULL""",
        ),
    ),
)


class Pending(NamedTuple):
    """An act that waits for its verdict."""

    id: str
    kind: str
    body: dict[str, Any]
    actor: str


def inbox_path(store_path: Path) -> Path:
    """Where the inbox of a store is.

    >>> inbox_path(Path("ponds/heron-lane.db")).as_posix()
    'ponds/heron-lane.inbox.db'
    """
    return store_path.with_name(store_path.stem + ".inbox.db")


class Inbox:
    """Made by `open`; one per thread. Methods raise StoreError where the file cannot be used."""

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open the file at `path` (see `inbox_path`), or create it, for owner and group as the umask allows.

        Raises StoreError for a file that is no inbox, or one of a newer program.
        """
        with explained(path):
            # Only ever a new file: closing a handle of one in use would drop SQLite's locks on it.
            with suppress(OSError):  # it is there already, or SQLite says why it cannot be
                os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o660))
                leave_to_owner(path, path.parent)
            not_too_small(path)
            db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
            db.text_factory = _text
            try:
                db.execute("PRAGMA busy_timeout = 5000")
                # With FULL a power cut may bring back the journal of an act just handed in, and that takes it away.
                db.execute("PRAGMA synchronous = EXTRA")
                migrate(db, APPLICATION_ID, MIGRATIONS)
            except BaseException:
                db.close()
                raise
        return cls(path, db)

    def submit(self, kind: str, body: Mapping[str, Any], actor: str) -> str:
        """Put an act in; returns its id. Raises InputError for one too large, or while too many wait."""
        text = _checked(kind, body, actor)
        act_id = uuid.uuid4().hex
        with explained(self.path):
            added = self._db.execute(  # one statement, so that no other process comes between count and insert
                "INSERT INTO acts (id, kind, body, actor) SELECT ?, ?, ?, ? "
                "WHERE (SELECT count(*) FROM acts WHERE accepted IS NULL) < ?",
                (act_id, kind, text, actor, MAX_PENDING),
            ).rowcount
        if not added:
            raise InputError(f"{MAX_PENDING} acts wait already: start the service, it takes them in")
        return act_id

    def verdict(self, act_id: str) -> tuple[bool, str] | None:
        """Whether the act was accepted, and the answer; None while it waits (or is long forgotten)."""
        with explained(self.path):
            row = self._db.execute(
                "SELECT accepted, text FROM acts WHERE id = ? AND accepted IS NOT NULL", (act_id,)
            ).fetchone()
        return row and (bool(row[0]), row[1])

    def wait(self, act_id: str, timeout_s: float) -> tuple[bool, str] | None:
        """The verdict, as soon as there is one; None after `timeout_s` seconds of machine time without."""
        until = time.monotonic() + timeout_s
        while (found := self.verdict(act_id)) is None and (left := until - time.monotonic()) > 0:
            time.sleep(min(POLL_S, left))
        return found

    def pending(self) -> list[Pending]:
        """The acts that wait, in the order they came. One whose body cannot be read is refused here."""
        with explained(self.path):
            rows = self._db.execute(
                "SELECT id, kind, body, actor FROM acts WHERE accepted IS NULL ORDER BY seq"
            ).fetchall()
        waiting = []
        for act_id, kind, text, actor in rows:
            body = _parsed(text)
            if body is None:
                self.answer(act_id, False, "its body is no JSON object")
            else:
                waiting.append(Pending(act_id, kind, body, actor))
        return waiting

    def answer(self, act_id: str, accepted: bool, text: str) -> None:
        """Give the verdict, after the store has committed the act; the first one stands."""
        with explained(self.path):
            self._db.execute(
                "UPDATE acts SET accepted = ?, text = ? WHERE id = ? AND accepted IS NULL",
                (accepted, text, act_id),
            )
            self._db.execute(
                "DELETE FROM acts WHERE accepted IS NOT NULL AND seq <= "
                "(SELECT seq FROM acts WHERE accepted IS NOT NULL ORDER BY seq DESC LIMIT 1 OFFSET ?)",
                (KEPT_VERDICTS,),
            )

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _checked(kind: str, body: Mapping[str, Any], actor: str) -> str:
    """The body as JSON text. Raises InputError for what the inbox does not take."""
    if max(len(kind), len(actor)) > MAX_WORD_CHARACTERS:
        raise InputError(f"kind and actor have at most {MAX_WORD_CHARACTERS} characters")
    try:
        text = json.dumps(dict(body))
        (kind + actor + json.dumps(dict(body), ensure_ascii=False)).encode("utf-8")
    except UnicodeEncodeError as error:
        part = str(error.object)[max(0, error.start - 10) : error.end + 10]
        raise InputError(f"{kind!a}: {part!a} has half a character in it (no UTF-8): write it anew") from None
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError(f"an act of kind {kind!a} cannot be written as JSON: {error}") from None
    if len(text) > MAX_BODY_BYTES:  # ASCII only: as many bytes as characters
        raise InputError(f"an act of kind {kind!r} has {len(text)} bytes, at most {MAX_BODY_BYTES} are taken")
    return text


def _text(data: bytes) -> str:
    """What another program put in may be no text: it is refused like other nonsense, and ends nothing."""
    return data.decode("utf-8", "replace")


def _parsed(text: str) -> dict[str, Any] | None:
    try:
        body = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return body if isinstance(body, dict) else None
