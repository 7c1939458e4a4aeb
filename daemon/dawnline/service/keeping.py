"""Keeping: what the store does not take stays in memory, in order, and is written when it can be.

A batch that cannot be committed is held; at the next commit, after a pause, all that is held goes into one transaction
with it. Held batches are as they would have been committed: an attempt at a letter, its outcome and what superseded it
come into the outbox in their order, so nothing is sent a second time. What may only happen once it is on the disk (an
acknowledgement to the broker, a verdict to a person) waits with them.

Memory is bounded (held.py). A checkpoint is written with the first commit after something went: the watch goes on as it
was, though its record has a gap. If the process ends meanwhile all that is held is lost: none of it was acknowledged.

What no store can hold (store/unfit.py) is parted from the rest, logged, and counted in `status`: it holds nothing up.

A file found damaged while it is written to is set aside, and a new one takes what is held, with every open letter.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from enum import IntEnum
from typing import Any, Final, NamedTuple

import structlog

from dawnline.errors import DamagedStoreError, StoreError, UnfitError
from dawnline.event import Storing
from dawnline.letter import Letter
from dawnline.service.held import MOST, Held
from dawnline.service.look_over import LookOver
from dawnline.service.retention import Retention
from dawnline.store.batch import Batch
from dawnline.store.record import ActRow
from dawnline.store.store import Store
from dawnline.store.upkeep import damaged

GRAVE: Final = 0.75  # of the readings that memory has room for
RETRY_S: Final = 10.0  # machine time; a card that hangs may take seconds to say no
ANEW_S: Final = 3600.0  # machine time: a card that damages each new file must not be filled with them
SHOWN: Final = 500  # characters, of what could not be stored
UNFIT: Final = "the record cannot hold it: it has a number too large, or half a character; write it anew without"
LOOK_S: Final = 60.0  # machine time: how often it is seen whether a file set aside is still there

_log = structlog.get_logger(__name__)


class State(IntEnum):
    """How the store stands, from good to bad."""

    WELL = 0
    SET_ASIDE = 1  # a damaged file lies beside it
    HOLDING = 2  # it takes nothing, memory does
    FILLING = 3
    LOSING = 4


class Kept(NamedTuple):
    """Whether a batch is on the disk, which of its attempts may be made, and the acts (by id) no store can hold."""

    stored: bool
    begun: frozenset[str]
    unfit: frozenset[str] = frozenset()

    def told(self, verdicts: Iterable[ActRow]) -> list[ActRow]:
        """Verdicts as they are told: an act that cannot stand in the record is refused."""
        return [replace(row, accepted=False, text=UNFIT) if row.act.id in self.unfit else row for row in verdicts]


class Keeping:
    """Commits to `store`. `letters` gives every open letter. For one thread: the core."""

    def __init__(
        self, store: Store, letters: Callable[[], list[Letter]], monotonic_s: Callable[[], float] = time.monotonic
    ) -> None:
        self.store = store
        self.trouble = ""  # why the store takes nothing; "" where it does
        self.undated = ""  # why a stretch could not be dated
        self.held = Held()
        self.unfit = 0  # rows that no store can hold, since the start
        self.anew = False  # a new file was begun, and nothing has been written to it
        self.retention = Retention(None)
        self.look_over: LookOver | None = None
        self._letters = letters
        self._monotonic_s = monotonic_s
        self._again_s = 0.0
        self._aside = ""
        self._said: State | None = None
        self._anew_s = -ANEW_S
        self._looked_s = -LOOK_S

    def commit(self, batch: Batch, *, at: int, last: bool = False) -> Kept:
        """Commit this and all that is held; where that cannot be, or is not yet tried again, hold it too.

        `at` is pond time [ms]. With `last` it is tried at once.
        """
        if self.waiting() and not last:
            return self._hold(batch)
        try:
            self._look_at_what_was_found()
            if self.trouble:
                self.store.reopen()
            kept = self._stored(batch)
        except DamagedStoreError as error:
            self._begin_anew(error, at, batch)
            return self._hold(batch)
        except StoreError as error:
            self.failed(error)
            return self._hold(batch)
        if self.trouble:
            written = self.held.count["readings"] + len(batch.readings)
            _log.info("store-well-again", written=written, lost=dict(self.held.gone))
        self.held.clear()
        self.trouble, self.anew = "", False
        return kept

    def _stored(self, batch: Batch) -> Kept:
        """Store all of it, but for what no store can hold. Raises StoreError."""
        try:
            return Kept(stored=True, begun=self.store.commit(*self.held.batches, batch))
        except UnfitError as error:
            why = error
        parts = [self.store.fitting(each) for each in (*self.held.batches, batch)]
        unfit = [row for _, rows in parts for row in rows]
        begun = self.store.commit(*[fit for fit, _ in parts])
        self.unfit += len(unfit)
        for row in unfit:
            _log.error("not-storable", why=str(why), what=ascii(row)[:SHOWN], meanwhile="the rest is stored without it")
        letters = {row.key for row in unfit if isinstance(row, Letter)}  # they are sent all the same, once
        acts = frozenset(row.act.id for row in unfit if isinstance(row, ActRow))
        return Kept(stored=True, begun=begun | letters.intersection(batch.attempts), unfit=acts)

    def let_go(self, now: int) -> None:
        """Let old raw readings go, if it is time and all is well; `now` is pond time [ms], of a clock that is set."""
        if not self.trouble:
            try:
                self.retention.turn(self.store, now)
            except StoreError as error:
                self.failed(error)

    def begin_with(self, batch: Batch, error: StoreError) -> None:
        """The store has refused this at the start already: it is held as it is, memory included."""
        self.failed(error)
        self.held.begin_with(batch)

    def wants_all(self) -> bool:
        """Whether the next batch must bring the whole memory: what is in the file does not lead to it."""
        return (self.held.gap or self.anew) and not self.waiting()

    def waiting(self) -> bool:
        """Whether the store takes nothing and it is too early to try again."""
        return bool(self.trouble) and self.resting()

    def resting(self) -> bool:
        """Whether it is left alone since it last refused something."""
        return self._monotonic_s() < self._again_s

    def not_dated(self, error: StoreError) -> None:
        """The store takes what is small, perhaps, but not the dating of a stretch."""
        if not self.undated:
            _log.error("readings-not-dated", why=str(error), meanwhile="times stay provisional")
        self.undated = str(error)
        self._again_s = self._monotonic_s() + RETRY_S

    def failed(self, error: StoreError) -> None:
        """The store refused something; it is left alone for a while."""
        if not self.trouble:
            _log.error("store-failing", why=str(error), meanwhile="readings and letters are kept in memory")
        self.trouble = str(error)
        self._again_s = self._monotonic_s() + RETRY_S

    def news(self, *, told_well: bool) -> Callable[[int], Storing] | None:
        """What the fold is to hear of the store, as a function of its stamp; None where it has heard it.

        `told_well` says that by what the fold heard before this start all is well.
        """
        before = self._said if self._said is not None else State.WELL if told_well else None
        self._said, text = self.state()
        if self._said is before:
            return None
        grave = self._said >= State.HOLDING
        return lambda stamp: Storing(stamp, text, grave)

    def end(self) -> StoreError:
        """The error with which the service ends where its last commit was refused."""
        return StoreError(
            f"{self.trouble}; {self.held.count['readings']} readings that it did not take are lost with this end"
        )

    def state(self) -> tuple[State, str]:
        """How the store stands, and what there is to say of it, in the words of an alarm."""
        if self._monotonic_s() - self._looked_s >= LOOK_S:
            self.look()
        if not self.trouble and self.undated:
            return State.HOLDING, self.undated
        if not self.trouble:
            return (State.SET_ASIDE if self._aside else State.WELL), self._aside
        if self.held.gap:
            which = "the oldest readings are" if self.held.gone["readings"] else "older letters and alarms are"
            return State.LOSING, f"{self.trouble}; memory is full, {which} being lost"
        filling = self.held.count["readings"] >= GRAVE * MOST["readings"]
        return (State.FILLING if filling else State.HOLDING), self.trouble

    def _look_at_what_was_found(self) -> None:
        """Raises the damage that was found beside the watch."""
        if self.look_over is not None and self.look_over.found is not None:
            found, self.look_over.found = self.look_over.found, None
            raise found

    def look(self) -> None:
        """See whether a record that was set aside still lies there."""
        self._looked_s = self._monotonic_s()
        aside = damaged(self.store.path)
        names = ", ".join(each.name for each in aside)
        self._aside = f"a damaged record was set aside as {names}, and a new one begun" if aside else ""

    def as_json(self) -> dict[str, Any]:
        """How it stands, for `status`."""
        return {
            "trouble": self.trouble or self.undated,
            "held": self.held.count["readings"],
            "most": MOST["readings"],
            "lost": self.held.gone["readings"],
            "gone": {name: number for name, number in self.held.gone.items() if name != "readings"},
            "unfit": self.unfit,
            "retention": self.retention.as_json(),
        }

    def _hold(self, batch: Batch) -> Kept:
        """Keep it, less what the next commit brings anew."""
        attempts = frozenset(batch.attempts)
        batch = replace(batch, cursor=None, receipts={}, alarm_memory=None, checkpoint=None)
        self.held.add(batch)
        return Kept(stored=False, begun=attempts)

    def _begin_anew(self, error: DamagedStoreError, at: int, batch: Batch) -> None:
        """Set the damaged file aside; the next commit goes into a new one, and brings the whole memory."""
        self.failed(error)
        if self._monotonic_s() - self._anew_s < ANEW_S:
            return
        self._anew_s = self._monotonic_s()
        try:
            aside = self.store.begin_anew(at)
        except StoreError as another:
            self.failed(another)
            return
        _log.error("the store was damaged and set aside; going on with a new one", why=str(error), aside=str(aside))
        ours = {row.key for each in (*self.held.batches, batch) for row in each.letters}
        self.held.begin_with(Batch(letters=[row for row in self._letters() if row.key not in ours]))
        self._again_s, self.anew = 0.0, True
        self.look()
