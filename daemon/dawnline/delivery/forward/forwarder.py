"""The thread that copies readings on, from the store by a place in it: at least once, in order, nothing held in memory.

A row is sent until the server has it. What it refuses for its content is found by halving, set aside and said; where it
refuses everything, nothing is set aside: then the setup is wrong, not the rows.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any, Final, Protocol

import structlog

from dawnline.delivery.backoff import backoff
from dawnline.delivery.forward.answer import AnswerError, Kind
from dawnline.delivery.forward.place import Place, Progress, Row, Source, Trail
from dawnline.delivery.later import KEEPER_S
from dawnline.errors import DawnlineError

ROWS: Final = 1000  # in a request, at most
LOOK_S: Final = 5.0  # machine time between looks for new readings
SAVE_S: Final = 10.0
JITTER: Final = 0.2

_log = structlog.get_logger(__name__)


class Server(Protocol):
    """Where rows go."""

    def write(self, rows: Sequence[Row]) -> bool:
        """Send; returns whether the connection was made anew. Raises AnswerError."""

    def close(self) -> None:
        """Let go."""


class Forwarder:
    """`open_source` and `open_server` are called in the thread itself, and again after trouble with either."""

    def __init__(
        self, open_source: Callable[[], Source], open_server: Callable[[], Server], progress: Progress
    ) -> None:
        self._open_source, self._open_server = open_source, open_server
        self._progress = progress
        self._trail = Trail(progress.place)
        self._source: Source | None = None
        self._server: Server | None = None
        self._rows = ROWS
        self._failures = 0
        self._sent = 0
        self._trouble = ""
        self._saved_s = 0.0
        self._saved = (progress.place, progress.refused)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="forwarder", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self, within_s: float = 2.0) -> bool:
        """End; what was not sent yet goes out the next time. False where it did not end in time (machine time)."""
        self._stopping.set()
        self._thread.join(within_s)
        return not self._thread.is_alive()

    def as_json(self) -> dict[str, Any]:
        """For `status`: up to which reading (Unix ms, None before the first), counts, and what is wrong."""
        here = self._trail.here
        return {
            "up_to": here.received_at if here.probe else None,
            "sent": self._sent,
            "refused": self._progress.refused,
            "last_refused": self._progress.set_aside[-1] if self._progress.set_aside else None,
            "trouble": self._trouble,
        }

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        wait_s = 0.0
        while not self._stopping.wait(wait_s):
            try:
                wait_s = self._turn()
            except Exception as error:  # noqa: BLE001  a copy that stops for good would be noticed by nobody
                wait_s = self._failed(AnswerError(Kind.LATER, f"{type(error).__name__}: {error}", broken=True))
            self._save()
        self._save(now=True)
        if self._server is not None:
            self._server.close()

    def _turn(self) -> float:
        """One request, or a look that finds nothing; returns how long to wait [s]."""
        self._trail.settle(time.monotonic())
        try:
            self._source = self._source or self._open_source()
            rows = self._source.arrived(self._trail.here, self._rows)
            if not rows:
                return LOOK_S
            self._server = self._server or self._open_server()
        except DawnlineError as error:  # the store, or a token that is not to be had
            self._source = None
            return self._failed(AnswerError(Kind.SETUP, str(error)))
        try:
            again = self._server.write(rows)
        except AnswerError as error:
            return self._refused(rows, error)
        return self._taken(rows[-1].place, len(rows), again=again)

    def _taken(self, place: Place, number: int, *, again: bool) -> float:
        self._sent += number
        if self._trouble:
            _log.info("forwarding-again", after_failures=self._failures)
        self._failures, self._trouble = 0, ""
        self._trail.confirmed(place, time.monotonic())
        if again:
            self._trail.broken(time.monotonic())
        more = number >= self._rows or self._trail.here != place
        self._rows = min(ROWS, self._rows * 2)
        return 0.0 if more else LOOK_S

    def _refused(self, rows: Sequence[Row], error: AnswerError) -> float:
        if error.kind is Kind.TOO_LARGE and len(rows) > 1:
            self._rows = max(1, len(rows) // 2)
            return 0.0
        if error.kind in (Kind.BAD_ROW, Kind.TOO_LARGE):
            return self._without_the_bad(rows, error)
        return self._failed(error)

    def _without_the_bad(self, rows: Sequence[Row], error: AnswerError) -> float:
        """Halve until each part is taken or is one row; set aside only where the server took others."""
        bad: list[tuple[Row, str]] = []
        taken = 0
        parts = [(list(rows), error)]
        while parts:
            part, why = parts.pop()
            if len(part) == 1:
                bad.append((part[0], why.text))
                continue
            middle = len(part) // 2
            for half in (part[:middle], part[middle:]):
                if self._stopping.is_set():
                    return 0.0
                try:
                    assert self._server is not None
                    self._server.write(half)
                    taken += len(half)
                except AnswerError as again:
                    if again.kind not in (Kind.BAD_ROW, Kind.TOO_LARGE):
                        return self._failed(again)
                    parts.append((half, again))
        if not taken:  # all of them, or the only one there is: wait for others to compare with
            return self._failed(AnswerError(Kind.SETUP, error.text))
        for row, text in bad:
            self._progress.keep_aside([row], text)
            _log.warning("reading-refused-by-server", probe=row.place.probe, at=row.place.at, why=text)
        return self._taken(rows[-1].place, taken, again=False)

    def _failed(self, error: AnswerError) -> float:
        self._failures += 1
        if error.broken:
            self._trail.broken(time.monotonic())
        if error.text != self._trouble:
            _log.warning("not-forwarded", why=error.text)
        self._trouble = error.text
        wait_s = max(backoff(self._failures, error.wait_s), KEEPER_S if error.kind is Kind.SETUP else 0.0)
        return wait_s * (1.0 + JITTER * random.random())  # noqa: S311  many boards must not come back in one second

    def _save(self, *, now: bool = False) -> None:
        self._progress.place = self._trail.safe
        state = (self._progress.place, self._progress.refused)
        if state == self._saved or not (now or time.monotonic() - self._saved_s >= SAVE_S):
            return
        self._saved_s = time.monotonic()
        try:
            self._progress.save()
            self._saved = state
        except OSError as error:
            _log.warning("forwarding-place-not-saved", file=str(self._progress.file), why=error.strerror)
