"""The core loop: takes from the intake, folds, commits, and only then acknowledges, answers and sends.

One thread runs it and is the only writer of the store. A commit is due at the first of: a minute of pond time, half the
broker's in-flight window, anything that somebody waits for (a transition, a verdict, an attempt at delivery), stop.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import structlog

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.errors import StoreError
from dawnline.event import Act, Delivered, Storing, Tick
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Batch, Intake, Item, Receipt
from dawnline.probes.links.link import Link
from dawnline.service.asked import Asked
from dawnline.service.boot_clock import BootClock
from dawnline.service.dating import date, earlier
from dawnline.service.ending import end_together
from dawnline.service.keeping import Keeping
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.pending import Pending
from dawnline.service.post import Post
from dawnline.service.remembered import Remembered
from dawnline.store.provisional import Stretch
from dawnline.store.store import Store

LONGEST_WAIT_S: Final = 0.25  # machine time: how soon an act, a signal or a letter is looked after
LONGEST_DRAIN_S: Final = 1.0
LEAST_COMMIT_S: Final = 0.2  # machine time between commits that only time asks for (scaled clocks)
LEAST_CHECKPOINT_S: Final = 10.0

_log = structlog.get_logger(__name__)


@dataclass(slots=True)
class Core:
    """Everything the loop turns. `present` is called about once a second with the core itself."""

    pipeline: Pipeline
    store: Store
    inbox: PatientInbox
    intake: Intake
    links: Sequence[Link]
    post: Post
    clock: BootClock
    present: Callable[[Core], None]
    beginnings: Sequence[Callable[[], None]] = ()
    endings: Sequence[Callable[[], object]] = ()
    keeping: Keeping = field(init=False)
    asked: Asked = field(init=False)
    most_waiting: int = field(init=False)  # messages a broker may wait to have acknowledged: half its window
    pending: Pending = field(default_factory=Pending)
    turned: int | None = None  # the clock is known, by so many ms, and the stretch is not dated yet
    remembered: Remembered = field(default_factory=Remembered)
    receipts: list[Receipt] = field(default_factory=list)
    commits: int = 0
    committed_at: int = 0  # pond time
    committed_s: float = 0.0  # machine time
    checkpoint_at: int = 0
    checkpoint_s: float = 0.0
    looked_s: float = 0.0
    presented_s: float = 0.0
    present_every_s: float = 1.0  # machine time
    look_every_s: float = LONGEST_WAIT_S
    linger_s: float = 0.0  # machine time: what comes close together is folded together, for waking up costs as much
    dated: Callable[[], Pipeline] | None = None  # the pipeline at the end of the dated record
    alive: Callable[[], None] = lambda: None

    def __post_init__(self) -> None:
        """Nothing is committed but by way of `keeping`."""
        self.keeping = Keeping(self.store, self.post.letters)
        self.asked = Asked(self.inbox, self.store, self.keeping)
        windows = [link.window for link in self.links if link.window is not None]
        self.most_waiting = max(1, min(windows, default=2) // 2)

    def run(self, stopping: Callable[[], bool]) -> None:
        """Turn until told to stop; then fold what is queued and commit with a checkpoint.

        Raises StoreError where that last commit cannot be made.
        """
        checkpoint = self.store.checkpoint()
        self.checkpoint_at = 0 if checkpoint is None else checkpoint.cursor  # none, or an old one: soon a new one
        self.checkpoint_s = -LEAST_CHECKPOINT_S
        self.committed_at, self.committed_s = self.pipeline.now, time.monotonic()
        while not stopping():
            item = self.intake.take(self._patience())
            self._fold(item)
            if self.linger_s and not isinstance(item, Tick):
                time.sleep(self.linger_s)
            self._drain()
            self._look_around()
        self.end()
        while not isinstance(item := self.intake.take(0.0), Tick):
            self._fold(item)
        self._fold(item)
        if not self._commit(checkpoint=True, send=False, last=True):
            raise self.keeping.end()

    def end(self) -> None:
        """Stop links, post and whatever else has a thread, once."""
        endings, self.endings = self.endings, ()
        end_together(endings)

    def _patience(self) -> float:
        now = self.clock.now() - (self.turned or 0)
        to_minute = self.clock.machine_seconds(self.pipeline.next_minute - now)
        return min(self.look_every_s, max(0.005, to_minute))

    def _drain(self) -> None:
        """Fold what has come meanwhile, up to a commit; a flood holds up the rest for a second at most."""
        until_s = time.monotonic() + LONGEST_DRAIN_S
        while len(self.intake) and not self._due(more=True) and time.monotonic() < until_s:
            self._fold(self.intake.take(0.0))

    def _look_around(self) -> None:
        now_s = time.monotonic()
        if now_s - self.looked_s >= self.look_every_s:
            self.looked_s = now_s
            self.asked.take(self.intake, None if self.pending.stretch is None else self.pipeline.now)
        if self._due():
            self._commit()
        if now_s - self.presented_s >= self.present_every_s:
            stretch = self.pending.stretch
            if stretch is not None and (self.turned is not None or self.clock.known()):
                self._date(stretch)
            if (news := self.keeping.news(told_well=self.pipeline.storage.since is None)) is not None:
                self.intake.put_other(news)
            if not (len(self.intake) or self.pending.urgent or self.pending.stretch):
                self.keeping.let_go(self.pipeline.now)
            self._present()

    def _date(self, stretch: Stretch) -> None:
        """The clock is known: what was stamped until now is folded and committed as before, then dated as a whole.

        Where the store does not take that, stamps are brought back to provisional time until it does.
        """
        assert self.dated is not None
        if self.turned is None:
            waiting, by = self.intake.turn(self.clock.turn)
            for _ in range(waiting):
                self._fold(self.intake.take(0.0))
            self.turned = by
        if self.keeping.resting() or not self._commit(send=False):
            return
        try:
            dated = self.dated()
            date(self.store, stretch, self.pipeline, dated, by=self.turned, alive=self.alive)
        except StoreError as error:
            self.keeping.not_dated(error)
            return
        dated.kept()
        self.keeping.undated = ""
        self.pipeline, self.pending, self.turned = dated, Pending(), None
        self.committed_at = self.checkpoint_at = dated.now

    def _present(self) -> None:
        self.presented_s = time.monotonic()
        self.present(self)

    def _fold(self, item: Item | Tick) -> None:
        """One whole step, or the steps of one arrival."""
        if self.turned:
            item = earlier(item, self.turned)
        if isinstance(item, Batch):
            for sample in item.samples:
                self.pending.take(self.pipeline.step(sample))
            if not item.samples:
                self.pending.take(self.pipeline.step(Tick(item.at)))
            if item.receipt is not None:
                self.receipts.append(item.receipt)
            return
        if isinstance(item, Act) and self.asked.answered_before(item):
            return
        self.pending.take(self.pipeline.step(item))
        if isinstance(item, Storing):
            self.pending.storing.append(item)
        if isinstance(item, Delivered):
            self.pending.outcomes.append(item)
            self.pending.urgent = True
            self.post.outcome(item)

    def _due(self, *, more: bool = False) -> bool:
        """Whether to commit now; `more` waits to be folded before it."""
        if self.pending.urgent or (not self.keeping.waiting() and (self.keeping.trouble or self._awaited(more=more))):
            return True
        now = time.monotonic()
        if self.pipeline.now - self.committed_at >= MINUTE_MS and now - self.committed_s >= LEAST_COMMIT_S:
            return True
        return bool(self.post.due())

    def _awaited(self, *, more: bool) -> bool:
        """Whether a broker waits for acknowledgements, or may soon."""
        arrived = len(self.receipts)
        if not arrived:
            return False
        if arrived >= self.most_waiting:
            return True
        return not more and any(link.pressing() for link in self.links)

    def _commit(self, *, checkpoint: bool = False, send: bool = True, last: bool = False) -> bool:
        """Commit what is pending; False where the store did not take it, and it is held in memory."""
        now = time.monotonic()
        whole = self.keeping.wants_all()
        checkpoint = self.pending.stretch is None and (checkpoint or whole or self._checkpoint_due(now))
        pending, self.pending = self.pending, Pending(self.pending.stretch)
        letters = self.post.write(pending.messages)
        tried = self.post.due() if send else []
        batch = pending.batch(
            self.pipeline,
            letters=letters,
            in_flight=tuple(self.post.in_flight),
            attempts=tried,
            receipts=self.remembered.beside(self.receipts, self.links),
            checkpoint=checkpoint,
            memory=whole or bool(self.keeping.trouble),
        )
        kept = self.keeping.commit(batch, at=self.pipeline.now, last=last)
        self.committed_at, self.committed_s = self.pipeline.now, now
        self.asked.verdicts += kept.told(pending.verdicts)
        if kept.stored:
            self.pipeline.kept()
            self.commits += 1
            if checkpoint:
                self.checkpoint_at, self.checkpoint_s = self.pipeline.now, now
            self.remembered.add(self.receipts)
        if pending.transitions or (pending.verdicts and kept.stored):
            self._present()  # before the answer: who has it looks next
        if kept.stored:
            self._acknowledge()
        else:
            gone = [each for link in self.links for each in link.let_go(self.receipts)]
            self.receipts = [each for each in self.receipts if each not in gone] if gone else self.receipts
        self.post.send(tried, kept.begun)
        self._log(pending)
        return kept.stored

    def _checkpoint_due(self, now_s: float) -> bool:
        aged = self.pipeline.now - self.checkpoint_at >= HOUR_MS
        return aged and now_s - self.checkpoint_s >= LEAST_CHECKPOINT_S

    def _acknowledge(self) -> None:
        """All that may only happen once it is on the disk."""
        for link in self.links:
            link.acknowledge([receipt for receipt in self.receipts if receipt.link == link.name])
        self.receipts.clear()
        self.asked.answer()

    def _log(self, pending: Pending) -> None:
        for transition in pending.transitions:
            _log.info("alarm", id=transition.id, alarm=transition.alarm, change=transition.change,
                      priority=transition.priority, probe=transition.probe, text=transition.text)  # fmt: skip
        for problem in pending.problems:
            _log.warning("problem", text=problem.text)
