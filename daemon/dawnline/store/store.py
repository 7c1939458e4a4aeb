"""The one writer of a pond's store."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, Any, Self, TypeVar

from dawnline.duration import EVER_MS
from dawnline.errors import StoreError
from dawnline.letter import Letter
from dawnline.store import (
    connection,
    journal,
    outbox,
    probes,
    provisional,
    retention,
    rollups,
    state,
    unfit,
    writing,
)
from dawnline.store.batch import Batch
from dawnline.store.failure import explained
from dawnline.store.journal import Seen
from dawnline.store.questions import Questions
from dawnline.store.schema import MIGRATIONS, Migration
from dawnline.store.upkeep import move_aside

T = TypeVar("T")


class Store(Questions):
    """Made by `open`; used by one thread at a time. Each method raises StoreError naming file and remedy."""

    def __init__(
        self, path: Path, db: sqlite3.Connection, held: IO[str] | None, names: Sequence[tuple[str, str]], why: str = ""
    ) -> None:
        super().__init__(path, db)
        self._held = held
        self._names = names
        self._order = list(dict(names))
        self._why = why  # it cannot be written; "" where it can
        self._leave = False  # what waits to be dated stays undated: to be done once it can be written
        with explained(path):
            self._ids = probes.known_ids(db, names) if why else self._whole(lambda: probes.register(db, names))

    @classmethod
    def open(
        cls,
        path: Path,
        probes: Sequence[tuple[str, str]],
        *,
        check: bool = True,
        migrations: Sequence[Migration] = MIGRATIONS,
    ) -> Self:
        """Open for writing; the file is created, or brought up to date.

        `probes` are (name, quantity) in the order of the configuration. `check` reads the whole file for
        damage. Raises StoreError for a file that is no store, is damaged, comes from a newer program or is
        being written by another process, and for a probe whose quantity changed.
        """
        held = connection.lock(path)
        try:
            db = connection.open_writer(path, check=check, migrations=migrations)
            try:
                return cls(path, db, held, probes)
            except BaseException:
                db.close()
                raise
        except BaseException:
            held.close()
            raise

    @classmethod
    def open_unwritable(cls, path: Path, probes: Sequence[tuple[str, str]], why: str) -> Self:
        """Open for reading what cannot be written now: each commit raises StoreError `why`, until `reopen` succeeds.

        A file that is not there is an empty one. Raises StoreError where it cannot be read either.
        """
        return cls(path, connection.open_unwritable(path), None, probes, why)

    def commit(self, *batches: Batch) -> frozenset[str]:
        """Store all of these, in this order, in one transaction, on the disk when this returns.

        Returns those of the last one's `attempts` that may be sent now. Raises StoreError with nothing of them
        stored; the same batches can be committed again.
        """
        with explained(self.path):
            return self._whole(lambda: [self._apply(batch) for batch in batches][-1])

    def fitting(self, batch: Batch) -> tuple[Batch, list[Any]]:
        """The batch without the rows that no store can hold, and those rows; nothing is stored."""

        def tried(some: Batch) -> None:
            with explained(self.path):
                self._db.execute("BEGIN IMMEDIATE")
                try:
                    self._apply(some)
                finally:
                    self._db.execute("ROLLBACK")

        return unfit.parted(batch, tried)

    def check_start(self) -> None:
        """Read what a start reads. Raises DamagedStoreError where that is damaged."""
        with explained(self.path):
            for table in ("state", "stretch", "checkpoint", "probes"):
                self._db.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608  constants
            checkpoint = state.get_checkpoint(self._db)
            for _ in journal.journal_since(self._db, self._order, EVER_MS if checkpoint is None else checkpoint.cursor):
                pass
            outbox.open_letters(self._db)
            rollups.newest(self._db, self._ids.values())

    def let_go(self, before: int, copied: int | None) -> retention.Step:
        """Let some raw readings from before `before` [ms] go; their quarters stay (see `retention.let_go`)."""
        with explained(self.path):
            return self._whole(lambda: retention.let_go(self._db, before, copied))

    def recorded_since(self, days: int) -> int:
        """The begin [ms] of the last `days` days on which something was recorded; 0 where there are fewer."""
        return self._ask(retention.recorded_since, days)

    def reopen(self) -> None:
        """Open the same file once more, after the disk refused it. Raises StoreError; it can be called again."""
        if self._held is None:
            self._held = connection.lock(self.path)
        with explained(self.path):
            with suppress(sqlite3.Error):
                self._db.close()  # first: what it mapped read-only the next one would share
            self._db, self._why = connection.open_writer(self.path, check=bool(self._why)), ""
            self._ids = self._whole(lambda: probes.register(self._db, self._names))
        if self._leave:
            self.leave_undated()

    def begin_anew(self, at: int) -> Path:
        """The file was found damaged: set it aside (`at` is Unix ms) and go on with a new one. Returns its new path."""
        with explained(self.path), suppress(sqlite3.Error):
            self._db.close()
        aside = move_aside(self.path, at)
        self.reopen()
        return aside

    def _apply(self, batch: Batch) -> frozenset[str]:
        return writing.write(self._db, batch, self._ids)

    def date(self, by: int, fold: Callable[[Iterator[Seen]], Iterator[Batch]]) -> None:
        """The clock is known: what is provisional lies `by` ms later in truth. One transaction, or nothing of it.

        `fold` is given the events of the stretch at their true times and gives batches of what comes of them, the
        readings as they are to stand in the record.
        """

        def work() -> None:
            stretch = provisional.get_stretch(self._db)
            if stretch is None:
                raise StoreError("has nothing that waits to be dated: start the service again")
            provisional.shift(self._db, stretch.since, by)
            for batch in fold(journal.provisional_journal(self._db, stretch, by)):
                self._apply(batch)
            provisional.keep_others(self._db, {self._ids[name] for name in self._order}, stretch.offset + by)
            provisional.forget(self._db)

        with explained(self.path):
            self._whole(work)

    def leave_undated(self) -> None:
        """Put what waits to be dated into the record as it stands, `not evaluated`: its boot is over."""
        self._leave = bool(self._why)
        if not self._leave:
            with explained(self.path):
                self._whole(lambda: provisional.leave_undated(self._db))

    def stretch(self) -> provisional.Stretch | None:
        """The stretch of provisional time that waits to be dated; None where all is dated."""
        return None if self._leave else super().stretch()

    def provisional_journal(self, stretch: provisional.Stretch) -> Iterator[Seen]:
        """What the pipeline saw in this stretch, at provisional times. Read it to its end before the next commit."""
        with explained(self.path):
            yield from journal.provisional_journal(self._db, stretch, 0)

    def _whole(self, work: Callable[[], T]) -> T:
        if self._why:
            raise StoreError(self._why)
        self._db.execute("BEGIN IMMEDIATE")
        try:
            result = work()
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:  # SQLite has already rolled back after some errors
                self._db.execute("ROLLBACK")
            raise
        return result

    def receipts(self, link: str) -> list[state.Receipt]:
        """What this link had taken and not acknowledged at the last commit."""
        return self._ask(state.get_receipts, link)

    def journal_since(self, cursor: int) -> Iterator[tuple[int, Seen]]:
        """What the pipeline saw after `cursor` (Unix ms), in the same order, each event with its stamp.

        Read it to its end before the next commit. See `journal.journal_since` for the order.
        """
        with explained(self.path):
            yield from journal.journal_since(self._db, self._order, cursor)

    def waiting(self) -> list[Letter]:
        """The letters still to be delivered, oldest first; one with `attempts` may already have arrived."""
        return self._ask(outbox.open_letters)

    def close(self) -> None:
        """Fold the write-ahead log into the file and let go of it. Closing twice does nothing."""
        try:
            with explained(self.path):
                self._db.close()
        finally:
            if self._held is not None:
                self._held.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
