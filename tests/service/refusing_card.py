"""A card that refuses at a given statement, and a service on it that a test turns by itself."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from dawnline.delivery.worker import Trouble
from dawnline.duration import MINUTE_MS
from dawnline.event import Delivered, Transition
from dawnline.letter import Letter
from dawnline.probes.intake import Arrival, Intake, Receipt
from dawnline.reading import Reading
from dawnline.service import core as core_module
from dawnline.service import keeping
from dawnline.service.core import Core
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.post import Post
from dawnline.service.resume import resume
from dawnline.settings import load
from dawnline.store import connection
from dawnline.store.inbox import inbox_path
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from ..configuration import POND, serial
from .wire import Wire

T0 = 1_781_006_400_000  # 9 June 2026, 14:00 in Berlin
CONFIG = (
    POND
    + serial("ph", "ph")
    + """
[[people]]
name = "Ada"
addresses = ["console:"]
"""
)
FULL, BROKEN, READ_ONLY = sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_READONLY


@dataclass
class Card:
    """What stands between the store and its file. It fails from statement `since` on, `refusals` times."""

    since: int = 1 << 60
    refusals: int = 0
    code: int = FULL
    statements: int = 0

    def statement(self) -> None:
        self.statements += 1
        if self.statements >= self.since and self.refusals:
            self.refusals -= 1
            error = sqlite3.OperationalError("it does not want to")
            error.sqlite_errorcode = self.code
            raise error


class Wired:
    """A connection by way of a card."""

    def __init__(self, db: sqlite3.Connection, card: Card) -> None:
        self.db, self.card = db, card

    def execute(self, sql: str, *rest: Any) -> sqlite3.Cursor:
        if sql != "ROLLBACK":
            self.card.statement()
        return self.db.execute(sql, *rest)

    def executemany(self, sql: str, rows: Any) -> sqlite3.Cursor:
        self.card.statement()
        return self.db.executemany(sql, rows)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)


class Lane:
    """A worker that delivers at once, and keeps what it was given."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []
        self.report: Callable[[Letter], None] = lambda letter: None

    def submit(self, letter: Letter) -> None:
        self.letters.append(letter)
        self.report(letter)

    def trouble(self, _key: str) -> Trouble:
        return Trouble()


class Clock:
    """Pond time that stands until it is moved."""

    rate, behind_ms, stretch = 1.0, 0, None

    def __init__(self, at: int) -> None:
        self.at = at

    def now(self) -> int:
        return self.at

    def machine_seconds(self, pond_ms: float) -> float:
        return 0.0 * pond_ms


class Bench:
    """The store's folder, the card, and what was measured and sent in all runs."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        (folder / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
        self.settings = load(folder / "dawnline.toml")
        self.path = self.settings.store.path
        self.card, self.wire, self.lane = Card(), Wire(), Lane()
        self.at = T0
        self.measured: list[float] = []
        open_writer = connection.open_writer

        def wired(path: Path, **kwargs: Any) -> Any:
            db = open_writer(path, **kwargs)
            db.execute("PRAGMA synchronous = OFF")  # the power is cut in this process only
            return Wired(db, self.card)

        monkeypatch.setattr(connection, "open_writer", wired)
        monkeypatch.setattr(keeping, "RETRY_S", 0.0)
        monkeypatch.setattr(core_module, "LEAST_COMMIT_S", 0.0)

    def run(self, story: Callable[[Core], Iterator[None]], opened: Store | None = None) -> Core:
        """Turn the loop; before each round a step of the story."""
        opened = opened or Store.open(self.path, [("ph", "ph")], check=False)
        with opened as store, PatientInbox(inbox_path(self.path)) as inbox:
            clock = Clock(self.at)
            self.clock = clock
            intake = Intake(clock.now, last_stamp=store.cursor() or 0)
            self.lane.report = lambda letter: intake.put_other(lambda at: Delivered(letter.key, at, "delivered"))
            core = Core(
                resume(self.settings, store), store, inbox, intake, [self.wire],  # type: ignore[list-item]
                Post(self.lane, store.waiting()), clock, lambda core: None,  # type: ignore[arg-type]
            )  # fmt: skip
            steps = story(core)
            core.run(lambda: next(steps, core) is core)
            return core

    def measure(self, core: Core, count: int, level: float = 7.0, fall: float = 0.0) -> Iterator[None]:
        """A reading each minute, falling by so much, each of a value of its own, and each to be acknowledged."""
        for number in range(count):
            self.at += MINUTE_MS
            self.clock.at = self.at
            mid = len(self.measured)
            self.measured.append(round(level - fall * number + 0.02 * math.sin(mid) + mid * 1e-9, 9))
            receipt = Receipt("wire", mid, b"8 bytes!")
            core.intake.put(Arrival("wire", (("ph", self.measured[-1], None),), receipt=receipt))
            core.looked_s = core.presented_s = 0.0
            yield

    def night(self, core: Core) -> Iterator[None]:
        """Twenty minutes of calm, a fall below the limit that is told, and the return."""
        yield from self.measure(core, 20)
        yield from self.measure(core, 40, 7.0, 0.02)
        yield from self.measure(core, 75, 6.2, -0.02)

    def record(self, path: Path | None = None) -> list[Reading]:
        with Reader.open(path or self.path) as reader:
            return list(reader.readings("ph", 0, 1 << 60))

    def transitions(self, *, of_the_store: bool = False) -> list[Transition]:
        with Reader.open(self.path) as reader:
            found = reader.transitions(0, 1 << 60)
        return [each for each in found if (each.alarm == "store-failing") is of_the_store]

    def open_letters(self) -> list[str]:
        with Reader.open(self.path) as reader:
            return [row.key for row in reader.letters("waiting", "trying")]


def told(bench: Bench) -> list[tuple[int, str]]:
    """When, and what, Ada was told of the water; of each letter there is one attempt."""
    assert len({letter.key for letter in bench.lane.letters}) == len(bench.lane.letters)
    return [(letter.at, letter.subject) for letter in bench.lane.letters if letter.key.startswith("water/")]
