"""The threads that send: one lane for each address (and one for reports to it), so that one that hangs holds
back no other.

The core marks an attempt as begun and commits, then submits the letter; exactly one `report` follows each
`submit`, unless the process stops first, in which case the attempt has no outcome and is made again.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, TypeAlias

import structlog

from dawnline.delivery.later import LaterError
from dawnline.errors import DeliveryError
from dawnline.letter import Letter

Outcome: TypeAlias = Literal["delivered", "retry", "dead"]
Ended: TypeAlias = Callable[[Letter, Outcome, str], None]

WHOLE_S = 30.0  # one attempt, everything included
REPORT_TIMES = 20  # as long for a letter with a report: it has to be drawn first, after those of other ponds
IDLE_S = 300.0
LANES = 16
WAITING = 100  # letters in one lane
_TEXT = 300  # characters of an outcome

_log = structlog.get_logger(__name__)


class Trouble(NamedTuple):
    """Why a letter has to wait: the seconds the other side asked for, and whether it refused this letter alone."""

    asked_s: float | None = None
    letter_only: bool = False


@dataclass(slots=True, eq=False)
class _Lane:
    letters: deque[Letter] = field(default_factory=deque)
    now: Letter | None = None  # being sent, and not yet reported
    busy: bool = False  # inside `send`, perhaps long after it was given up


class Worker:
    """Sends letters on threads of its own and reports how each attempt ended.

    `send` returns a few words or raises DeliveryError. `report(letter, outcome, text)` is called from a lane, or
    from `submit` itself where a letter is refused at once; it must not block and must not call back.
    """

    def __init__(self, send: Callable[[Letter], str], report: Ended, *, whole_s: float = WHOLE_S) -> None:
        self._send = send
        self._report = report
        self._whole_s = whole_s
        self._changed = threading.Condition()
        self._lanes: dict[str, _Lane] = {}
        self._troubles: dict[str, Trouble] = {}  # by letter
        self._stopping = False

    def submit(self, letter: Letter) -> None:
        """Take a letter whose attempt is committed; returns at once."""
        with self._changed:
            refusal = self._queue(letter)
        if refusal:
            self._tell(letter, "retry", refusal)

    def trouble(self, key: str) -> Trouble:
        """What stood in the way of a letter whose attempt ended in "retry"; asked once."""
        with self._changed:
            return self._troubles.pop(key, Trouble())

    def stop(self, timeout_s: float = 5.0) -> bool:
        """Let each lane finish the letter it is sending; False where one still hangs after `timeout_s`.

        Letters still waiting are not sent. The threads are daemons: one that hangs does not keep the process.
        """
        with self._changed:
            self._stopping = True
            self._changed.notify_all()
            return self._changed.wait_for(lambda: not self._lanes, timeout_s)

    def _queue(self, letter: Letter) -> str:
        if self._stopping:
            return "the service is stopping"
        lane = self._lanes.get(letter.lane)
        if lane is None:
            if len(self._lanes) >= LANES and not self._drop_an_idle_lane():
                return f"all {LANES} lanes are busy"
            lane = self._lanes[letter.lane] = _Lane()
            try:
                self._open(letter.lane, lane)
            except RuntimeError as error:  # the system gives no thread now
                del self._lanes[letter.lane]
                return str(error)
        elif lane.busy and lane.now is None:
            return "an earlier attempt at this address still hangs"
        elif len(lane.letters) >= WAITING:
            return f"{WAITING} letters already wait for this address"
        lane.letters.append(letter)
        self._changed.notify_all()
        return ""

    def _open(self, address: str, lane: _Lane) -> None:
        threading.Thread(target=self._run, args=(address, lane), name="delivery", daemon=True).start()

    def _drop_an_idle_lane(self) -> bool:
        for address, lane in self._lanes.items():
            if not lane.busy and not lane.letters:
                del self._lanes[address]  # its thread sees that it is gone, and ends
                self._changed.notify_all()
                return True
        return False

    def _run(self, address: str, lane: _Lane) -> None:
        while (letter := self._take(address, lane)) is not None:
            outcome, text, trouble = self._attempt(lane, letter)
            with self._changed:
                in_time, lane.now, lane.busy = lane.now is letter, None, False
                if in_time and outcome == "retry":
                    self._troubles[letter.key] = trouble
            if in_time:
                self._tell(letter, outcome, text)
            else:
                _log.warning("late-outcome-ignored", person=letter.person, outcome=outcome)

    def _take(self, address: str, lane: _Lane) -> Letter | None:
        """The next letter of the lane, or None where the lane ends."""

        def wanted() -> bool:
            return bool(lane.letters) or self._stopping or self._lanes.get(address) is not lane

        with self._changed:
            if self._changed.wait_for(wanted, IDLE_S) and lane.letters and not self._stopping:
                lane.now, lane.busy = lane.letters.popleft(), True
                return lane.now
            if self._lanes.get(address) is lane:
                del self._lanes[address]
            self._changed.notify_all()
            return None

    def _attempt(self, lane: _Lane, letter: Letter) -> tuple[Outcome, str, Trouble]:
        """How it ended, in words, and what stood in the way."""
        whole_s = self._whole_s * (1 if letter.week is None else REPORT_TIMES)
        overdue = threading.Timer(whole_s, self._give_up, args=(lane, letter, whole_s))
        overdue.daemon = True
        try:
            overdue.start()
            return "delivered", self._send(letter), Trouble()
        except LaterError as error:
            return "retry", str(error), Trouble(asked_s=error.wait_s)
        except DeliveryError as error:
            return "retry" if error.retry else "dead", str(error), Trouble(letter_only=error.letter_only)
        except Exception as error:  # noqa: BLE001  a fault of ours or of a library must not end the lane
            _log.error("delivery-crashed", person=letter.person, exc_info=True)
            return "retry", f"internal fault ({type(error).__name__})", Trouble(letter_only=True)
        finally:
            overdue.cancel()

    def _give_up(self, lane: _Lane, letter: Letter, after_s: float) -> None:
        """The attempt took too long. Its thread cannot be ended; the lane stays shut until it returns."""
        with self._changed:
            if lane.now is not letter:
                return
            lane.now = None
            given_up = [letter, *lane.letters]
            lane.letters.clear()
        for each in given_up:
            self._tell(each, "retry", f"no answer within {after_s:g} s")

    def _tell(self, letter: Letter, outcome: Outcome, text: str) -> None:
        text = text[:_TEXT].encode("utf-8", "backslashreplace").decode()  # it is kept: half a character cannot be
        _log.info("delivery", person=letter.person, outcome=outcome, attempts=letter.attempts + 1, text=text)
        try:
            self._report(letter, outcome, text)
        except Exception:  # noqa: BLE001  a lane must outlive it
            _log.exception("delivery-report-crashed", person=letter.person, outcome=outcome)
