"""Read-only questions to a store, for the command line and the page."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Self

from dawnline.event import Act, Day, Forecast, Moved, Rainfall, Transition
from dawnline.letter import Letter, LetterState
from dawnline.reading import Reading
from dawnline.rollup import STEP_MS, Rollup
from dawnline.store import (
    arrivals,
    connection,
    forecasts,
    journal,
    moves,
    outbox,
    probes,
    provisional,
    rain,
    readings,
    record,
    retention,
    rollups,
    state,
)
from dawnline.store.failure import explained
from dawnline.store.record import ActRow


class Reader:
    """Made by `open`; never blocks the writer. Times are Unix ms, start included, end not.

    In a `with` statement all answers are of one moment, that of the first question, whatever is committed meanwhile.
    Each method raises StoreError naming file and remedy. Such a statement, or an iterator left half read, keeps the
    writer's log from being cut back: be done soon.
    """

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open read-only. Raises StoreError where there is no store, or not one of this program's version."""
        return cls(path, connection.open_reader(path))

    def probes(self) -> dict[str, str]:
        """Quantity by name, of every probe that ever wrote here."""
        with explained(self.path):
            return probes.known_probes(self._db)

    def readings(self, probe: str, start: int, end: int) -> Iterator[Reading]:
        """Readings of one probe by their own time; nothing for a probe that is not known."""
        with explained(self.path):
            yield from readings.select_readings(self._db, probe, start, end)

    def good(self, probe: str, start: int, end: int) -> Iterator[tuple[int, float]]:
        """Time and value of the good readings alone: a third of the time that `readings` takes."""
        with explained(self.path):
            yield from readings.select_good(self._db, probe, start, end)

    def buckets(self, probe: str, start: int, end: int, step: int) -> list[Rollup]:
        """Number, lowest, highest and sum of the good readings in stretches of `step` ms, from the readings."""
        with explained(self.path):
            return readings.select_buckets(self._db, probe, start, end, step)

    def rollups(self, probe: str, start: int, end: int, step: int = STEP_MS) -> list[Rollup]:
        """The same and how many are flagged, quickly also over years: all times are multiples of `STEP_MS`."""
        with explained(self.path):
            return rollups.select_rollups(self._db, probe, start, end, step)

    def raw_since(self, probe: str) -> int:
        """From when on [ms] the readings of this probe themselves are kept; before it only its rollups are. 0: all."""
        with explained(self.path):
            return retention.raw_since_of(self._db, probe)

    def latest(self, probe: str) -> Reading | None:
        """The reading with the latest time of its own, whatever its flag, but for those ahead of the clock."""
        with explained(self.path):
            return readings.latest_reading(self._db, probe)

    def arrived(self, after: tuple[int, str, int, int], limit: int) -> list[arrivals.Arrival]:
        """The next readings in the order in which they arrived, after a place (received_at, probe, at, n)."""
        with explained(self.path):
            return arrivals.select_arrivals(self._db, after, limit)

    def stretch(self) -> provisional.Stretch | None:
        """The stretch of provisional time that waits to be dated; None where all is dated."""
        with explained(self.path):
            return provisional.get_stretch(self._db)

    def latest_provisional(self, probe: str) -> Reading | None:
        """The last reading that waits to be dated, at its provisional time."""
        with explained(self.path):
            return provisional.latest_provisional(self._db, probe)

    def clock_set(self) -> str | None:
        """The last boot whose clock was known to be set."""
        with explained(self.path):
            return state.get_clock_set(self._db)

    def span(self) -> dict[str, tuple[int, int]]:
        """First and last reading time of each probe that has readings, but for those ahead of the clock."""
        with explained(self.path):
            return readings.select_span(self._db)

    def days(self, first: str, last: str) -> list[Day]:
        """Days from date `first` to date `last`, both included, by date, then probe."""
        with explained(self.path):
            return list(record.select_days(self._db, first, last))

    def forecasts(self, about: str, start: int, end: int) -> list[Forecast]:
        """Forecasts of `tonight` or of the `buffer` given in this time, by time, then probe."""
        with explained(self.path):
            return list(forecasts.select_forecasts(self._db, about, start, end))

    def last_forecast(self, about: str, before: int = 1 << 62) -> Forecast | None:
        """The last forecast of `tonight` or of the `buffer` given up to `before`."""
        with explained(self.path):
            return forecasts.last_forecast(self._db, about, before)

    def rain(self, probe: str, start: int, end: int) -> list[Rainfall]:
        """What a gauge has said that fell, where the telling ends in this time, in order."""
        with explained(self.path):
            return rain.select_rain(self._db, probe, start, end)

    def transitions(self, start: int, end: int, limit: int = 1000) -> list[Transition]:
        """The last `limit` alarm transitions decided in this time, in the order they were decided."""
        with explained(self.path):
            return record.select_transitions(self._db, start, end, limit)

    def moves(self, start: int, end: int) -> list[Moved]:
        """Moves of alarms between their states in this time, in the order in which they were made."""
        with explained(self.path):
            return moves.select_moves(self._db, start, end)

    def acts(self, start: int, end: int) -> list[ActRow]:
        """Acts about this time with their verdicts, by time."""
        with explained(self.path):
            return list(record.select_acts(self._db, start, end))

    def done(self, start: int, end: int) -> list[Act]:
        """Acts about this time that were accepted, by time."""
        with explained(self.path):
            return list(record.select_accepted(self._db, start, end))

    def accepted_acts(self, until: int, kinds: Sequence[str]) -> list[Act]:
        """Acts of these kinds that were accepted and that the pipeline saw up to `until` (Unix ms), in order."""
        with explained(self.path):
            return list(record.accepted_acts(self._db, until, kinds))

    def act_verdict(self, act_id: str) -> tuple[bool, str] | None:
        """Whether this act was accepted, and the answer; None for one that is not in the store."""
        with explained(self.path):
            return record.select_verdict(self._db, act_id)

    def given_up(self, since: int, limit: int) -> list[outbox.GivenUp]:
        """The last `limit` letters given up after `since` [ms], oldest first."""
        with explained(self.path):
            return outbox.given_up(self._db, since, limit)

    def letters(self, *states: LetterState, limit: int = 1000) -> list[Letter]:
        """The newest `limit` letters in these states, oldest first."""
        with explained(self.path):
            return outbox.all_letters(self._db, states, limit)

    def outbox(self) -> dict[str, int]:
        """How many letters are in each state."""
        with explained(self.path):
            return outbox.counted(self._db)

    def cursor(self) -> int | None:
        """The pond time up to which the service has committed; None in a new store."""
        with explained(self.path):
            return state.get_cursor(self._db)

    def alarm_memory(self) -> str | None:
        """The memory of the alarms as last committed."""
        with explained(self.path):
            return state.get_alarm_memory(self._db)

    def checkpoint(self) -> state.StoredCheckpoint | None:
        """The pipeline's memory as last committed; None where there is none, or none that can be unpacked."""
        with explained(self.path):
            return state.get_checkpoint(self._db)

    def journal_since(self, probes: Sequence[str], cursor: int) -> Iterator[journal.Seen]:
        """What the pipeline saw of these probes after `cursor`, in the same order (see `journal.journal_since`)."""
        with explained(self.path):
            for _, event in journal.journal_since(self._db, probes, cursor):
                yield event

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def __enter__(self) -> Self:
        with explained(self.path):
            self._db.execute("BEGIN")
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
