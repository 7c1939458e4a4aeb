"""A board that does not know the time: provisional time, dating, and a power cut at every statement on the way."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Day, Transition
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Arrival, Intake, Receipt
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.service.core import Core
from dawnline.service.fold import make_pipeline
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.pending import Pending
from dawnline.service.post import Post
from dawnline.service.present import snapshot
from dawnline.service.resume import dated_pipeline, resume
from dawnline.service.start_clock import begin_stretch, start_clock
from dawnline.settings import Settings, load
from dawnline.store.inbox import inbox_path
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from ..configuration import POND, serial

CONFIG = POND + serial("ph", "ph")
MONTHS_MS = 100 * DAY_MS


class PowerCutError(Exception):
    """Nothing more is written."""


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


class Wire:
    """A link that remembers what was acknowledged; no thread, no port."""

    name, window = "wire", None

    def __init__(self) -> None:
        self.acknowledged: set[int] = set()

    def acknowledge(self, receipts: list[Receipt]) -> None:
        self.acknowledged.update(receipt.mid for receipt in receipts)

    def pressing(self) -> bool:
        return False

    def let_go(self, receipts: list[Receipt]) -> list[Receipt]:
        return receipts[:0]

    def all_heard(self) -> bool:
        return True

    def start(self) -> None: ...

    def stop(self) -> None: ...


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


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A pond with an hour of dated record, and then the power goes."""
    made = Bench(tmp_path)
    made.run(lambda core: made.measure(core, 60))
    return made


def falling(number: int) -> float:
    """pH in the minutes of a bad night, from 6.7 slowly down to 6.3."""
    return max(6.3, 6.7 - 0.02 * number)


def changes(transitions: list[Transition], alarm: str) -> list[tuple[int, str]]:
    return [(t.id, t.change) for t in transitions if t.alarm == alarm]


# ------------------------------------------------------------ steps of either sign


@pytest.mark.parametrize("wrong_ms", [-MONTHS_MS, -9 * HOUR_MS, -3_000, 3_000, HOUR_MS, MONTHS_MS])
def test_readings_get_their_true_times(bench: Bench, wrong_ms: int) -> None:
    bench.board.cut_power(8 * HOUR_MS, wrong_ms)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        assert len(bench.record()) == 60
        yield from bench.become_known(core)
        yield from bench.measure(core, 25)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()


@pytest.mark.parametrize("ahead_ms", [3_000, 5 * HOUR_MS, MONTHS_MS])
def test_where_the_record_was_ahead_of_the_truth_it_goes_on(bench: Bench, ahead_ms: int) -> None:
    bench.board.cut_power(-ahead_ms, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        yield from bench.become_known(core)
        yield from bench.measure(core, 25)
        assert bool(core.clock.behind_ms) == (ahead_ms > 10_000)

    bench.run(story)
    assert [each.value for each in bench.record()] == [value for _, value in bench.measured]
    steps = [b.at - a.at for a, b in pairwise(bench.record())]
    assert 0 < min(steps) <= max(steps) <= MINUTE_MS + 10  # a stamp is never given twice
    assert bench.replayed()[0] == bench.record()


def test_a_new_store_waits_for_its_first_hour(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.board.cut_power(0, 30 * MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        yield from bench.become_known(core)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.transitions() == []


def test_a_clock_set_by_hand_is_taken_note_of(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -7 * HOUR_MS)  # it stands after the record, as a saved clock does

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 5)
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is not None
        bench.board.wrong_ms = -365 * DAY_MS  # a slip of the hand: before the record
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is not None
        bench.board.wrong_ms = 0
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is None

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured


# ------------------------------------------------------------ the power goes again


def values(bench: Bench) -> set[float]:
    """What is on the disk, dated or not."""
    with Store.open(bench.settings.store.path, [("ph", "ph")], check=False) as store:
        stretch = store.stretch()
        waiting = store.provisional_journal(stretch) if stretch else iter(())
        return {e.value for e in waiting if isinstance(e, Sample)} | {each.value for each in bench.record()}


class Cutting:
    """The store's connection until the power goes, at the given statement from now on."""

    def __init__(self, db: Any, statements: int) -> None:
        self.db, self.left = db, statements

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)

    def execute(self, text: str, *values: Any) -> Any:
        if text != "ROLLBACK":
            self._count()
        return self.db.execute(text, *values)

    def executemany(self, text: str, values: Any) -> Any:
        self._count()
        return self.db.executemany(text, values)

    def _count(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise PowerCutError


def cut_while_dating(bench: Bench, statements: int) -> bool:
    """Whether the power went before dating was done."""

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 4, lambda n: 6.3)
        for number in range(3):  # these wait in the queue when the clock becomes known
            next(bench.measure(core, 1, lambda n, more=number: 6.3 + more))  # type: ignore[misc]
        core.store._db = Cutting(core.store._db, statements)  # type: ignore[assignment]
        yield from bench.become_known(core)
        core.store._db = core.store._db.db  # type: ignore[attr-defined]

    try:
        bench.run(story)
    except PowerCutError:
        return True
    return False


@pytest.mark.parametrize("reboot", [False, True])
def test_a_power_cut_at_any_statement_loses_and_doubles_nothing(tmp_path: Path, *, reboot: bool) -> None:
    statements, cut = 0, True
    while cut:
        folder = tmp_path / str(statements)
        folder.mkdir()
        bench = Bench(folder)
        bench.run(lambda core, bench=bench: bench.measure(core, 5))  # type: ignore[misc]
        bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
        cut = cut_while_dating(bench, statements)
        found = values(bench)
        assert {bench.measured[mid][1] for mid in bench.wire.acknowledged} <= found
        bench.measured = [each for each in bench.measured if each[1] in found]  # the broker sends the others again
        if reboot:
            bench.board.cut_power(HOUR_MS, 0)

        def story(core: Core, bench: Bench = bench) -> Iterator[None]:
            yield from bench.become_known(core)
            yield from bench.measure(core, 3, lambda n: 6.3)

        bench.run(story)
        record = bench.record()
        assert [each.value for each in record] == [value for _, value in bench.measured]
        assert all(later.at > earlier.at for earlier, later in pairwise(record))
        undated = [each for each in record if each.reason is Reason.UNDATED]
        assert len(undated) == (len(bench.measured) - 8 if reboot and cut else 0)
        if not undated:
            assert [(each.at, each.value) for each in record] == bench.measured
        statements += 1
    assert statements > 25


def test_what_an_earlier_boot_left_undated_stays_so(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    bench.run(lambda core: bench.measure(core, 20))
    bench.board.cut_power(2 * HOUR_MS, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20)
        yield from bench.become_known(core)
        yield from bench.measure(core, 20)

    bench.run(story)
    record = bench.record()
    assert [each.value for each in record] == [value for _, value in bench.measured]
    assert all(later.at > earlier.at for earlier, later in pairwise(record))
    lost, dated = record[60:80], record[:60] + record[80:]
    assert {(each.flag, each.reason) for each in lost} == {(Flag.NOT_EVALUATED, Reason.UNDATED)}
    assert not [each for each in dated if each.reason is Reason.UNDATED]
    assert [(each.at, each.value) for each in dated] == bench.measured[:60] + bench.measured[80:]
    assert changes(bench.transitions(), "no-data") == []


def test_after_a_mere_restart_in_the_same_boot_all_can_still_be_dated(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    for _ in range(3):
        bench.run(lambda core: bench.measure(core, 20))
        bench.board.pass_ms(7 * MINUTE_MS)  # the service is down
    bench.board.set_clock()  # while nobody looks

    def story(core: Core) -> Iterator[None]:
        yield from bench.become_known(core)
        yield from bench.measure(core, 3)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()


def test_a_restart_gives_the_provisional_memory_again(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    core = bench.run(lambda core: bench.measure(core, 45, lambda n: 6.3))
    with Store.open(bench.settings.store.path, [("ph", "ph")], check=False) as store:
        again = resume(bench.settings, store)
    assert again.unset.since == core.pipeline.unset.since
    assert again.save() == core.pipeline.save()


def test_a_boot_whose_clock_was_known_stays_known(bench: Bench) -> None:
    bench.board.is_set = False  # time synchronisation has been away for a while, and the kernel says so
    core = bench.run(lambda core: bench.measure(core, 5))
    assert core.clock.stretch is None
    assert [(each.at, each.value) for each in bench.record()] == bench.measured


# ------------------------------------------------------------ alarms and acts


def test_an_alarm_of_provisional_time_is_one_episode(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    began_at = bench.board.true_ms

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 60, falling)
        raised = bench.transitions()
        assert [(t.alarm, t.change) for t in raised] == [("ph-low", "raised"), ("clock-unset", "raised")]
        assert all("the clock is not set" in t.text or "not known to be set" in t.text for t in raised)
        yield from bench.become_known(core)
        yield from bench.measure(core, 20, lambda n: 6.3)
        yield from bench.measure(core, 80, lambda n: min(6.7, 6.3 + 0.02 * n))

    bench.run(story)
    rows = bench.transitions()
    assert changes(rows, "ph-low") == [(1, "raised"), (1, "returned")]
    assert changes(rows, "clock-unset") == [(2, "raised"), (2, "returned")]
    assert [t.at for t in rows] == sorted(t.at for t in rows)
    low, unset, known, over = rows
    assert began_at + 21 * MINUTE_MS <= low.at <= began_at + 25 * MINUTE_MS
    assert began_at <= unset.since <= unset.at - 30 * MINUTE_MS
    assert known.at <= began_at + 62 * MINUTE_MS
    assert over.since == low.since
    assert "clock" not in over.text


def test_an_unset_clock_becomes_more_urgent_after_a_day(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    bench.run(lambda core: bench.measure(core, 25 * 12, every_ms=5 * MINUTE_MS))
    rows = [t for t in bench.transitions() if t.alarm == "clock-unset"]
    assert [(t.id, t.change, t.priority) for t in rows] == [(1, "raised", "low"), (1, "escalated", "medium")]


def test_a_silent_probe_is_told_on_provisional_time(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)

    def silence(minutes: int) -> Iterator[None]:
        for _ in range(minutes):
            bench.board.pass_ms(MINUTE_MS)
            yield

    def story(core: Core) -> Iterator[None]:
        yield from silence(15)
        yield from bench.become_known(core)
        yield from silence(15)

    bench.run(story)
    (raised,) = bench.transitions()
    assert (raised.alarm, raised.change) == ("no-data", "raised")
    assert "the clock is not set" in raised.text
    assert 4 * MINUTE_MS <= raised.at - raised.since <= 8 * MINUTE_MS


def test_acts_and_screens_move_with_the_time_they_were_made_in(bench: Bench) -> None:
    def act(core: Core, name: str, kind: str, **body: Any) -> Iterator[None]:
        core.intake.put_other(lambda stamp: Act(name, stamp, kind, body, "ada"))
        yield

    def before(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 40, falling)
        yield from act(core, "early", "shelve", id=1, **{"for": "24h"})

    bench.run(before)
    early_until = bench.board.true_ms + 24 * HOUR_MS
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 28, lambda n: max(5.8, 6.3 - 0.02 * n))
        yield from act(core, "late", "shelve", id=2, **{"for": "2h"})
        late_until = bench.board.true_ms + 2 * HOUR_MS
        yield from bench.become_known(core)
        until = {alarm: memory.shelved_until for alarm, _, memory in core.pipeline.desk.active()}
        assert until["ph-low"] == pytest.approx(early_until, abs=1000)
        assert until["ph-crash"] == pytest.approx(late_until, abs=1000)
        with Reader.open(bench.settings.store.path) as reader:
            noted = {row.act.id: row.act.at for row in reader.acts(0, 1 << 60)}
        assert noted["late"] == pytest.approx(late_until - 2 * HOUR_MS, abs=1000)

    bench.run(story)


# ------------------------------------------------------------ days


@pytest.mark.parametrize("provisional", [False, True])
@pytest.mark.parametrize(
    ("evening", "date", "hours"),
    [("2026-03-28T20:00+01:00", "2026-03-29", 23), ("2026-10-24T20:00+02:00", "2026-10-25", 25)],
)
def test_days_at_the_change_of_summer_time_are_whole(
    tmp_path: Path, evening: str, date: str, hours: int, *, provisional: bool
) -> None:
    bench, every = Bench(tmp_path), 4 * MINUTE_MS
    bench.board = Board(evening)
    bench.run(lambda core: bench.measure(core, 15, every_ms=every))
    bench.board.cut_power(HOUR_MS, -MONTHS_MS if provisional else 0)
    bench.board.is_set = not provisional

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20 * 15, every_ms=every)
        assert len(bench.days()) == (0 if provisional else 1)
        assert bool(snapshot(core.pipeline, bench.settings)["today"]) is not provisional
        if provisional:
            yield from bench.become_known(core)
        yield from bench.measure(core, 16 * 15, every_ms=every)

    bench.run(story)
    eve, day = bench.days()
    assert (eve.coverage, day.date) == (pytest.approx(3 / 24, abs=0.02), date)
    assert day.coverage == pytest.approx(1.0, abs=0.005)
    assert day.minutes_below == 0
    assert [eve, day] == bench.replayed()[1]
    with Reader.open(bench.settings.store.path) as reader:
        mornings = [str(datetime.fromtimestamp(each.at / 1000, bench.settings.pond.zone).date())
                    for each in reader.forecasts("buffer", 0, 1 << 60)]  # fmt: skip
    assert date in mornings
    zone = bench.settings.pond.zone
    held = [at for at, _ in bench.measured if str(datetime.fromtimestamp(at / 1000, zone).date()) == date]
    assert len(held) == pytest.approx(hours * 15, abs=1)
    assert [each.at for each in bench.record()] == [at for at, _ in bench.measured]


# ------------------------------------------------------------ senders with a time of their own


def test_a_senders_time_is_judged_when_ours_is_known(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    board, sent = bench.board, []

    def sender(core: Core, ages_ms: list[int], value: Callable[[int], float]) -> Iterator[None]:
        for number, age in enumerate(ages_ms):
            if not age:
                board.pass_ms(MINUTE_MS)
            sent.append(board.true_ms - age)
            core.intake.put(Arrival("wire", (("ph", value(number), sent[-1]),)))
            yield

    def story(core: Core) -> Iterator[None]:
        # A broker hands out a queue of eight hours, with pH falling in it as it never does in a second.
        yield from sender(core, [n * MINUTE_MS for n in range(400, 0, -1)], lambda n: 7.7 - n / 400)
        yield from sender(core, [0] * 15, lambda n: 6.7)
        assert bench.transitions() == []
        assert core.pipeline.watches["ph"].newest[2] == Flag.GOOD  # type: ignore[index]
        yield from sender(core, [0] * 40, falling)
        assert changes(bench.transitions(), "ph-low") == [(2, "raised")]
        yield from bench.become_known(core)

    bench.run(story)
    record = bench.record()[60:]
    assert [each.at for each in record] == sent
    assert {each.flag for each in record[1:]} == {Flag.GOOD}  # judged as what they are, now that their age is known
    assert [t.alarm for t in bench.transitions()] == ["clock-unset", "ph-low"]
