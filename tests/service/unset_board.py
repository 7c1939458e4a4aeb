"""A board without a clock of its own, and a service on it that a test turns by itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from pathlib import Path

from dawnline.duration import DAY_MS, MINUTE_MS
from dawnline.event import Day, Transition
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Arrival, Intake, Receipt
from dawnline.reading import Reading, Sample
from dawnline.service.core import Core
from dawnline.service.fold import make_pipeline
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.pending import Pending
from dawnline.service.post import Post
from dawnline.service.resume import dated_pipeline, resume
from dawnline.service.start_clock import begin_stretch, start_clock
from dawnline.settings import Settings, load
from dawnline.store.inbox import inbox_path
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from ..configuration import POND, serial
from .wire import Wire

CONFIG = POND + serial("ph", "ph")
MONTHS_MS = 100 * DAY_MS


class Board:
    """A computer without a clock of its own: `true_ms` is what it should say, `wrong_ms` what it says less that."""

    rate, scaled = 1.0, False

    def __init__(self, at: str) -> None:
        self.true_ms = round(datetime.fromisoformat(at).timestamp() * 1000)
        self.wrong_ms, self.up_ms, self.boots = 0, 5_000, 1
        self.is_set = True

    def pass_ms(self, ms: int) -> None:
        self.true_ms += ms
        self.up_ms += ms

    def cut_power(self, off_ms: int, wrong_ms: int) -> None:
        self.true_ms += off_ms
        self.wrong_ms, self.up_ms, self.is_set, self.boots = wrong_ms, 3_000, False, self.boots + 1

    def set_clock(self) -> None:
        self.wrong_ms, self.is_set = 0, True

    def now(self) -> int:
        return self.true_ms + self.wrong_ms

    def going_on_from(self, _last: int | None) -> Board:
        return self

    def machine_seconds(self, pond_ms: float) -> float:
        return 0.0 * pond_ms

    def boot(self) -> str:
        return f"boot-{self.boots}"

    def uptime_ms(self) -> int:
        return self.up_ms

    def marked(self) -> bool:
        return self.is_set

    def synchronised(self) -> bool:
        return False

    def kept_time(self) -> bool:
        return False

    def will_be_set(self) -> bool:
        return True


class Bench:
    """Board, store and what was measured; `run` is one run of the service."""

    def __init__(self, folder: Path) -> None:
        (folder / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
        self.settings: Settings = load(folder / "dawnline.toml")
        self.board, self.wire = Board("2026-06-09T22:00+02:00"), Wire()
        self.measured: list[tuple[int, float]] = []  # true time, value

    def run(self, story: Callable[[Core], Iterator[None]], *, cut_at: int = -1) -> Core:
        """Turn the loop; before each round a step of the story. `cut_at` cuts the power at that statement."""
        with (
            Store.open(self.settings.store.path, [("ph", "ph")], check=False) as store,
            PatientInbox(inbox_path(self.settings.store.path)) as inbox,
        ):
            store._db.execute("PRAGMA synchronous = OFF")  # the power is cut in this process only
            clock = start_clock(store, self.board, self.board, "auto")  # type: ignore[arg-type]
            pipeline = resume(self.settings, store)
            refused = None
            if clock.stretch is not None and store.stretch() is None:
                refused = begin_stretch(pipeline, store, clock.stretch)
            intake = Intake(clock.now, last_stamp=max(store.cursor() or 0, pipeline.now))
            core = Core(
                pipeline, store, inbox, intake, [self.wire], Post(None, []), clock, lambda core: None,  # type: ignore[list-item,arg-type]
            )  # fmt: skip
            core.pending = Pending(clock.stretch)
            if refused is not None:
                core.keeping.begin_with(*refused)
            core.dated = partial(dated_pipeline, self.settings, store, clock.stretch and clock.stretch.since - 1)
            steps = story(core)
            core.run(lambda: next(steps, core) is core)
            return core

    def measure(
        self, core: Core, count: int, value: Callable[[int], float] = lambda n: 6.7, every_ms: int = MINUTE_MS
    ) -> Iterator[None]:
        """A reading each minute, each of a value of its own."""
        for number in range(count):
            self.board.pass_ms(every_ms)
            mid = len(self.measured)
            level = value(number) + 0.05 * math.sin(mid / 20)  # alive, and each value is met once
            self.measured.append((self.board.true_ms, round(level + mid * 1e-9, 9)))
            receipt = Receipt("wire", mid, b"8 bytes!")
            core.intake.put(Arrival("wire", (("ph", self.measured[-1][1], None),), receipt=receipt))
            yield

    def become_known(self, core: Core) -> Iterator[None]:
        """The clock is set, and the core looks at it."""
        self.board.set_clock()
        for _ in range(3):
            core.presented_s = 0.0
            yield
        assert core.clock.stretch is None

    def record(self) -> list[Reading]:
        with Reader.open(self.settings.store.path) as reader:
            return list(reader.readings("ph", 0, 1 << 60))

    def transitions(self) -> list[Transition]:
        with Reader.open(self.settings.store.path) as reader:
            return reader.transitions(0, 1 << 60)

    def days(self) -> list[Day]:
        with Reader.open(self.settings.store.path) as reader:
            return reader.days("2000-01-01", "2100-01-01")

    def replayed(self) -> tuple[list[Reading], list[Day]]:
        """What a fold of the record gives."""
        fold: Pipeline = make_pipeline(self.settings)
        effects = [e for each in self.record() for e in fold.step(Sample(each.probe, each.at, each.value, each.at))]
        readings = [effect.reading for effect in effects if hasattr(effect, "reading")]
        return readings, [effect for effect in effects if isinstance(effect, Day)]


def with_an_hour(folder: Path) -> Bench:
    """A pond with an hour of dated record."""
    made = Bench(folder)
    made.run(lambda core: made.measure(core, 60))
    return made


def falling(number: int) -> float:
    """pH in the minutes of a bad night, from 6.7 slowly down to 6.3."""
    return max(6.3, 6.7 - 0.02 * number)


def changes(transitions: list[Transition], alarm: str) -> list[tuple[int, str]]:
    return [(t.id, t.change) for t in transitions if t.alarm == alarm]
