"""The inbox as the service reads it: a file that other processes write to must not end the watch."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Final

import structlog

from dawnline.errors import StoreError
from dawnline.store.inbox import Inbox, Pending

RETRY_S: Final = 30.0  # machine time; a file that is held by somebody makes us wait for 5 s each time

_log = structlog.get_logger(__name__)


class PatientInbox:
    """Opens the inbox at `path` and, where that or anything later fails, says so once and tries again after a while.

    Until then no act is taken; those that wait in the file, and verdicts that could not be written, are seen to when it
    can be used again.
    """

    def __init__(self, path: Path, retry_s: float = RETRY_S) -> None:
        self.path = path
        self.failing = ""  # why the last attempt to use it failed; empty where all is well
        self._retry_s = retry_s
        self._again_at_s = 0.0
        self._inbox: Inbox | None = None

    def pending(self) -> list[Pending]:
        """The acts that wait; none while the file cannot be used."""
        if time.monotonic() < self._again_at_s:
            return []
        try:
            if self._inbox is None:
                self._inbox = Inbox.open(self.path)
            waiting = self._inbox.pending()
        except StoreError as error:
            self._lost(error)
            return []
        if self.failing:
            _log.info("inbox-well-again", file=str(self.path))
        self.failing = ""
        return waiting

    def answer(self, act_id: str, accepted: bool, text: str) -> None:
        """Give a verdict that the store has committed. One that cannot be written is asked for again by `pending`."""
        if self._inbox is None:
            return
        try:
            self._inbox.answer(act_id, accepted, text)
        except StoreError as error:
            self._lost(error)

    def close(self) -> None:
        """Let go of the file."""
        if self._inbox is not None:
            self._inbox.close()
            self._inbox = None

    def __enter__(self) -> PatientInbox:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _lost(self, error: StoreError) -> None:
        if not self.failing:
            _log.error("inbox-unusable", why=str(error), meanwhile="acts from the command line are not taken")
        self.failing = str(error)
        self._again_at_s = time.monotonic() + self._retry_s
        self.close()
