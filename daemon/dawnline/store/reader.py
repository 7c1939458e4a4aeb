"""Read-only questions to a store, for the command line and the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Self

from dawnline.duration import EVER_MS
from dawnline.event import Act, Day, Forecast, Moved, Rainfall, Transition
from dawnline.letter import Letter, LetterState
from dawnline.reading import Reading
from dawnline.rollup import STEP_MS, Rollup
from dawnline.store import connection, journal, outbox, probes, provisional, readings, record, retention, rollups
from dawnline.store.failure import explained
from dawnline.store.questions import Questions
from dawnline.store.readings import Arrival
from dawnline.store.record import ActRow


class Reader(Questions):
    """Made by `open`; never blocks the writer. Times are Unix ms, start included, end not.

    In a `with` statement all answers are of one moment, that of the first question, whatever is committed meanwhile.
    Each method raises StoreError naming file and remedy. Such a statement, or an iterator left half read, keeps the
    writer's log from being cut back: be done soon.
    """

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open read-only. Raises StoreError where there is no store, or not one of this program's version."""
        return cls(path, connection.open_reader(path))

    def probes(self) -> dict[str, str]:
        """Quantity by name, of every probe that ever wrote here."""
        return self._ask(probes.known_probes)

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
        return self._ask(readings.select_buckets, probe, start, end, step)

    def rollups(self, probe: str, start: int, end: int, step: int = STEP_MS) -> list[Rollup]:
        """The same and how many are flagged, quickly also over years: all times are multiples of `STEP_MS`."""
        return self._ask(rollups.select_rollups, probe, start, end, step)

    def raw_since(self, probe: str) -> int:
        """From when on [ms] the readings of this probe themselves are kept; before it only its rollups are. 0: all."""
        return self._ask(retention.raw_since_of, probe)

    def latest(self, probe: str) -> Reading | None:
        """The reading with the latest time of its own, whatever its flag, but for those ahead of the clock."""
        return self._ask(readings.latest_reading, probe)

    def arrived(self, after: tuple[int, str, int, int], limit: int) -> list[Arrival]:
        """The next readings in the order in which they arrived, after a place (received_at, probe, at, n)."""
        return self._ask(readings.select_arrivals, after, limit)

    def latest_provisional(self, probe: str) -> Reading | None:
        """The last reading that waits to be dated, at its provisional time."""
        return self._ask(provisional.latest_provisional, probe)

    def span(self) -> dict[str, tuple[int, int]]:
        """First and last reading time of each probe that has readings, but for those ahead of the clock."""
        return self._ask(readings.select_span)

    def days(self, first: str, last: str) -> list[Day]:
        """Days from date `first` to date `last`, both included, by date, then probe."""
        return self._ask(record.select_days, first, last)

    def forecasts(self, about: str, start: int, end: int) -> list[Forecast]:
        """Forecasts of `tonight` or of the `buffer` given in this time, by time, then probe."""
        return self._ask(record.select_forecasts, about, start, end)

    def last_forecast(self, about: str, before: int = EVER_MS) -> Forecast | None:
        """The last forecast of `tonight` or of the `buffer` given up to `before`."""
        return self._ask(record.last_forecast, about, before)

    def rain(self, probe: str, start: int, end: int) -> list[Rainfall]:
        """What a gauge has said that fell, where the telling ends in this time, in order."""
        return self._ask(record.select_rain, probe, start, end)

    def transitions(self, start: int, end: int, limit: int = 1000) -> list[Transition]:
        """The last `limit` alarm transitions decided in this time, in the order they were decided."""
        return self._ask(record.select_transitions, start, end, limit)

    def moves(self, start: int, end: int) -> list[Moved]:
        """Moves of alarms between their states in this time, in the order in which they were made."""
        return self._ask(record.select_moves, start, end)

    def acts(self, start: int = 0, end: int = EVER_MS) -> list[ActRow]:
        """Acts about this time with their verdicts, by time; all of them where none is given."""
        return self._ask(record.select_acts, start, end)

    def done(self, start: int = 0, end: int = EVER_MS) -> list[Act]:
        """Acts about this time that were accepted, by time; all of them where none is given."""
        return self._ask(record.select_accepted, start, end)

    def letters(self, *states: LetterState, limit: int = 1000) -> list[Letter]:
        """The newest `limit` letters in these states, oldest first."""
        return self._ask(outbox.all_letters, states, limit)

    def outbox(self) -> dict[str, int]:
        """How many letters are in each state."""
        return self._ask(outbox.counted)

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
