"""Acknowledgements that come back by MQTT: acts like any other, with their verdict told where they came from."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from typing import Final

import structlog

from dawnline.event import Act
from dawnline.probes.intake import Intake

MOST: Final = 10  # that wait for their verdict; a broker is open to much
ACTOR: Final = "mqtt"

_log = structlog.get_logger(__name__)


class Replies:
    """`ask` is called from the network thread, `answered` from the core. `tell(episode, accepted, text)` must return
    at once.
    """

    def __init__(self, intake: Intake, tell: Callable[[int, bool, str], None]) -> None:
        self._intake = intake
        self._tell = tell
        self._lock = threading.Lock()
        self._waiting: dict[str, int] = {}  # act -> episode

    def ask(self, episode: int) -> None:
        """Somebody says they have this alarm."""
        act_id = uuid.uuid4().hex
        with self._lock:
            full = len(self._waiting) >= MOST
            if not full:
                self._waiting[act_id] = episode
        if full:
            self._tell(episode, False, f"{MOST} acknowledgements wait already")
            return
        _log.info("acknowledgement-by-mqtt", id=episode)
        self._intake.put_other(lambda stamp: Act(act_id, stamp, "acknowledge", {"id": episode}, ACTOR))

    def answered(self, act_id: str, accepted: bool, text: str) -> None:
        """The verdict on an act, whoever asked."""
        with self._lock:
            episode = self._waiting.pop(act_id, None)
        if episode is not None:
            self._tell(episode, accepted, text)
