"""Soak: a simulated year through the real service, with faults drawn at random from a seed.

    python tests/benchmarks/soak.py [--days 365] [--windows N] [--seed S] [--log FILE]

Pond time runs 40 000 times as fast between windows, with a reading of each of three probes every five minutes, and 120
times as fast within them, with one every ten seconds; a window takes some seconds and has one fault or two, and in
every other one the pH falls. (By MQTT every fifteen minutes between windows: a process on a busy machine commits ten
messages at a time.) Machine time is real, and so are the service, its store on a card (a small ext4 file
system, see card.py), a broker, a serial line, a web hook, a mail server and a database of readings (victoria-metrics).
The clock of the service is steered from outside (steered.py). Whatever ends the service, it is started again, as
systemd does.

Counted afterwards against the books kept outside: each message the broker has acknowledged, and each reading and each
move of an alarm that was ever seen in the store, must stand there once; each reading of the serial line spoken while
nothing was troubled must be there; a replay of the stored readings gives the same alarms; every letter has arrived, or
was overtaken by a newer one, and none twice without saying so; the database holds what the store holds; every act has
one verdict; memory, handles and threads of the longest-lived process at its end are those after its first day. In the
middle part, six tenths of the time, no fault ends the process.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from random import Random
from typing import TypeAlias

sys.path.insert(0, str(Path(__file__).parent))
from soak_world import START, TIMES, WINDOW_S, World
from stage import Figures, command, wait_for

from dawnline.errors import DawnlineError
from dawnline.letter import LetterState
from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.reader import Reader

DAY_S = 86_400
EVERY_DAYS = 3.0  # a window
MIDDLE = (0.3, 0.9)  # of the time: no fault ends the process
QUIET_S = 2.5  # before and after a fault what the serial line says may be lost
GROWTH_MB = 8.0
ALL = 1 << 60
STATES: tuple[LetterState, ...] = ("waiting", "trying", "delivered", "superseded", "dead")
# What a replay of the readings can know; not when readings with a time of their own have arrived.
OF_READINGS = frozenset({"ph-low", "ph-high", "ph-crash", "sudden-drop", "no-data"})
DATED = "water"
CHANGES = ("raised", "returned")
Row: TypeAlias = tuple[str, str | None, str, int]  # alarm, probe, change, when


@dataclass
class Books:
    """What was seen while it ran."""

    readings: set[tuple[str, float]] = field(default_factory=set)
    place: tuple[int, str, int, int] = (0, "", 0, 0)
    moves: set[tuple[int, str, str, int]] = field(default_factory=set)
    letters: set[str] = field(default_factory=set)
    acts: set[str] = field(default_factory=set)
    trouble: list[tuple[float, float]] = field(default_factory=list)  # machine time, from and to
    faults: Counter[str] = field(default_factory=Counter)
    life: list[tuple[float, float, Figures]] = field(default_factory=list)  # process began, now (pond), figures


@dataclass
class Result:
    """The count."""

    days: float = 0.0
    seconds: float = 0.0
    readings: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    starts: int = 0
    again: list[str] = field(default_factory=list)  # letters sent once more: the card had taken nothing
    alarms: int = 0
    letters: dict[str, int] = field(default_factory=dict)
    acts: int = 0
    first_day: Figures | None = None
    last_day: Figures | None = None
    lived_days: float = 0.0
    wrong: dict[str, list[str]] = field(default_factory=dict)

    def count(self, what: str, found: list[str]) -> None:
        """What must be nothing."""
        self.wrong[what] = found

    @property
    def well(self) -> bool:
        """Nothing of what must not be, and something of what must."""
        return not any(self.wrong.values()) and self.alarms > 0 and self.readings > 0


# ------------------------------------------------------------ the year


def run(days: float, windows: int, seed: int, log: Path | None = None, show: Callable[[str], None] = print) -> Result:
    """All of it."""
    begun, dice, books = time.monotonic(), Random(seed), Books()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="dawnline-soak-")))
        world = World(folder, dice, stack)
        try:
            _year(world, books, days, windows, show)
            result = _end(world, books, days)
        finally:
            if log is not None:
                shutil.copy(world.log, log)
        result.seconds = time.monotonic() - begun
    return result


def _year(world: World, books: Books, days: float, windows: int, show: Callable[[str], None]) -> None:
    decks = {ends: _deck(world, ends=ends) for ends in (True, False)}
    for number in range(windows):
        at = (number + world.dice.uniform(0.2, 0.8)) / windows
        world.set_pace("fast")
        while world.true_s() < START + at * days * DAY_S:
            time.sleep(0.05)
        world.set_pace("slow")
        # What the broker still holds is taken in first: a window is about its own faults.
        _catch_up(world)
        if number % max(1, windows // 30) == 0:
            day = (world.true_s() - START) / DAY_S
            show(f"day {day:6.1f}  {world.figures()}  {len(books.readings)} readings seen, {world.starts} starts")
        deck = decks[not MIDDLE[0] <= at <= MIDDLE[1]]
        names = [next(deck) for _ in range(world.dice.choice((1, 1, 2)))]
        _window(world, books, list(dict.fromkeys(names)), dip=number % 2 == 0)
    world.set_pace("fast")
    while world.true_s() < START + days * DAY_S:
        time.sleep(0.05)
    world.set_pace("slow")


def _deck(world: World, *, ends: bool) -> Iterator[str]:
    """Names of faults, all of them before one comes again."""
    names = [name for name, fault in world.faults().items() if ends or not fault.ends]
    while True:
        world.dice.shuffle(names)
        yield from names


def _window(world: World, books: Books, names: list[str], *, dip: bool) -> None:
    faults, dice, now = world.faults(), world.dice, world.true_s()
    _look(world, books)
    if dip:
        world.probes.dip = now + 30, now + (WINDOW_S + 1) * TIMES["slow"][0]
    _ask(world, books)
    began, books_from = time.monotonic(), time.monotonic() - QUIET_S
    plan = sorted((dice.uniform(0.5, 3.0), name) for name in names)
    ends: list[tuple[float, str]] = []
    for at, name in plan:
        _until(began + at)
        _look(world, books)
        faults[name].begin()
        books.faults[name] += 1
        ends.append((time.monotonic() + dice.uniform(1.0, 3.5), name))
    for at, name in sorted(ends):
        _until(at)
        faults[name].end()
    _until(began + WINDOW_S)
    world.probes.dip = None
    # What waits for its next attempt (machine time) must not wait for months of pond time: a card, then a letter.
    over = world.true_s()
    wait_for(lambda: _written(world) >= over, f"a commit after {names}", 30)
    wait_for(lambda: not _waiting(world), f"letters after {names}", 30)
    books.trouble.append((books_from, time.monotonic() + QUIET_S))
    _look(world, books)
    _weigh(world, books)


def _until(moment: float) -> None:
    time.sleep(max(0.0, moment - time.monotonic()))


def _waiting(world: World) -> int:
    """Letters that are open; some where the store cannot be asked."""
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        return len(reader.letters("waiting", "trying"))
    return 1


def _written(world: World) -> float:
    """Pond time up to which the store has all [Unix s]."""
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        return (reader.cursor() or 0) / 1000
    return 0.0


def _catch_up(world: World) -> None:
    spoken = world.probes.number
    wait_for(lambda: _taken_in(world) >= spoken, "what the broker holds", 120)


def _taken_in(world: World) -> int:
    """The number of the last message on `pond/ph` that stands in the store."""
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        latest = reader.latest("ph2")
        return 0 if latest is None else world.probes.number_of(latest.value)
    return 0


def _look(world: World, books: Books) -> None:
    """Note what stands in the store by now: it must stand there at the end."""
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        while rows := reader.arrived(books.place, 5000):
            for row in rows:
                books.readings.add((row[1], row[5]))
            books.place = rows[-1][:4]
        books.moves |= {(t.id, t.alarm, t.change, t.at) for t in reader.transitions(0, ALL, 1000)}
        books.letters |= {letter.key for letter in reader.letters(*STATES, limit=200)}


def _ask(world: World, books: Books) -> None:
    """An act for the service, as the command line or the page would ask."""
    with world.card_lock, suppress(DawnlineError), Inbox.open(inbox_path(world.store)) as inbox:
        books.acts.add(inbox.submit("hand-test", {"kh_dkh": 5.0}, "soak"))


def _weigh(world: World, books: Books) -> None:
    found = world.figures()
    if found is not None:
        books.life.append((world.begun_s, world.true_s(), found))


# ------------------------------------------------------------ the count


def _end(world: World, books: Books, days: float) -> Result:
    result = Result(days=days, faults=books.faults)
    world.set_pace("slow", 0.0)
    probes = world.probes
    wait_for(lambda: not probes.outstanding(), "the broker's last acknowledgements", 60)
    _weigh(world, books)
    probes.stopping = True
    probes.join()
    wait_for(lambda: probes.acknowledged <= _stored(world), "the last readings in the store", 60)
    wait_for(lambda: not _waiting(world), "the last letters", 120)
    wait_for(lambda: not _unanswered(world, books), "the last acts", 60)
    wait_for(lambda: _copied(world), "the last readings in the database", 150)
    _look(world, books)
    world.watched = False
    world.service.terminate()
    if (status := world.service.wait(20)) != 0:
        result.count("ends in good order", [f"status {status}"])
    result.starts = world.starts
    result.count("ends of the service by itself", [f"status {each}" for each in world.ended.elements()])
    aside = [each.name for each in world.store.parent.glob("pond*") if "damaged" in each.name]
    result.count("stores set aside", aside)
    with Reader.open(world.store) as reader:
        _count_readings(world, books, reader, result)
        _count_alarms(world, books, reader, result)
        _count_letters(world, books, reader, result)
        verdicts = {act: reader.act_verdict(act) for act in books.acts}
        rows = Counter(row.act.id for row in reader.acts(0, ALL))
    result.acts = len(verdicts)
    result.count("acts lost", [act for act, verdict in verdicts.items() if verdict is None])
    result.count("acts doubled", [act for act, times in rows.items() if times > 1])
    held, stored = world.servers.held(), _rows(world)
    result.count("readings not in the database", [str(row) for row in sorted(stored - held)])
    result.count("readings in the database alone", [str(row) for row in sorted(held - stored)])
    said = world.log.read_text("utf-8", "replace")
    result.count("tracebacks in the log", re.findall(r".{0,300}Traceback.{0,600}", said, re.DOTALL)[:5])
    _count_life(books, result)
    return result


def _stored(world: World) -> set[tuple[str, float]]:
    return {(probe, value) for probe, _, value in _rows(world)}


def _rows(world: World) -> set[tuple[str, int, float]]:
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        probes = ("ph", "ph2", "water")
        return {(name, each.at, each.value) for name in probes for each in reader.readings(name, 0, ALL)}
    return set()


def _copied(world: World) -> bool:
    return _rows(world) <= world.servers.held()


def _unanswered(world: World, books: Books) -> list[str]:
    with world.card_lock, suppress(DawnlineError), Reader.open(world.store) as reader:
        return [act for act in books.acts if reader.act_verdict(act) is None]
    return ["the store"]


def _count_readings(world: World, books: Books, reader: Reader, result: Result) -> None:
    found: Counter[tuple[str, float]] = Counter()
    for name in ("ph", "ph2", "water"):
        found.update((name, each.value) for each in reader.readings(name, 0, ALL))
    result.readings = found.total()
    lost = world.probes.acknowledged - found.keys()
    result.count("acknowledged messages lost", [str(row) for row in sorted(lost)])
    result.count("readings seen in the store and lost", [str(row) for row in sorted(books.readings - found.keys())])
    ours = {("ph", value) for _, value in world.probes.spoken} | world.probes.acknowledged
    result.count("readings doubled", [str(row) for row, times in found.items() if times > 1 and row in ours])
    quiet = [(at, value) for at, value in world.probes.spoken if not any(a <= at <= b for a, b in books.trouble)]
    first, last = (books.trouble or [(0.0, 0.0)])[0][0], (books.trouble or [(0.0, ALL)])[-1][1]
    missing = [f"{at:.2f} {value}" for at, value in quiet if first < at < last and ("ph", value) not in found]
    result.count("serial readings lost while nothing was troubled", missing)


def _count_alarms(world: World, books: Books, reader: Reader, result: Result) -> None:
    live = reader.transitions(0, ALL, 1_000_000)
    rows = [(t.id, t.alarm, t.change, t.at) for t in live]
    result.alarms = sum(t.change == "raised" for t in live)
    result.count("alarms seen and lost", [str(row) for row in sorted(books.moves - set(rows))])
    result.count("alarms doubled", [str(row) for row, times in Counter(rows).items() if times > 1])
    asked = {episode for letter in reader.letters(*STATES, limit=1_000_000) for episode in letter.asks}
    high = [t for t in live if t.change == "raised" and t.priority == "high"]
    result.count("high alarms in no letter", [f"{t.id} {t.alarm} at {t.at}" for t in high if t.id not in asked])
    ours = Counter(
        (t.alarm, t.probe, t.change, t.at)
        for t in live
        if t.alarm in OF_READINGS and t.change in CHANGES and t.probe != DATED
    )
    again = _replayed(world)
    result.count("alarms that a replay of the readings does not give", _differences(ours, again))


def _differences(ours: Counter[Row], again: Counter[Row]) -> list[str]:
    rows = sorted(ours | again, key=lambda row: row[-1])
    return [f"{row}: live {ours[row]}, replay {again[row]}" for row in rows if ours[row] != again[row]]


def _replayed(world: World) -> Counter[Row]:
    """The alarms that a replay of the stored readings gives."""
    table = world.folder / "readings.csv"
    subprocess.run(command(world.config, "readings", "--csv", str(table)), check=True, stdout=subprocess.DEVNULL)
    words = command(world.config, "replay", "--json", str(table))
    out = subprocess.run(words, check=True, capture_output=True, text=True).stdout
    rows = [json.loads(line) for line in out.splitlines()]
    return Counter(
        (row["alarm"], row["probe"], row["change"], round(datetime.fromisoformat(row["time"]).timestamp() * 1000))
        for row in rows
        if row["event"] == "alarm"
        and row["alarm"] in OF_READINGS
        and row["change"] in CHANGES
        and row["probe"] != DATED
    )


def _count_letters(world: World, books: Books, reader: Reader, result: Result) -> None:
    letters = reader.letters(*STATES, limit=1_000_000)
    result.letters = dict(Counter(letter.state for letter in letters))
    result.count("letters seen and lost", sorted(books.letters - {letter.key for letter in letters}))
    result.count("letters given up", [letter.key for letter in letters if letter.state == "dead"])
    result.count("letters that wait", [letter.key for letter in letters if letter.state in ("waiting", "trying")])
    arrived = {letter["key"] for letter in world.servers.letters}
    due = [letter.key for letter in letters if letter.state == "delivered" and letter.address.startswith("http")]
    result.count("letters called delivered that never came", [key for key in due if key not in arrived])
    plain = Counter(letter["key"] for letter in world.servers.letters if not letter["repeat"])
    # A card that takes nothing does not know either what was sent, if the power goes then: it is sent once more.
    twice = [key for key, times in plain.items() if times > 1]
    result.again = [key for key in twice if _at(key, world.unwritten)]
    result.count("letters doubled without a mark", [key for key in twice if key not in result.again])
    mails = Counter(world.servers.mails)
    result.count("mails doubled without a mark", [str(mail) for mail, times in mails.items() if times > 1])
    number = sum(letter.state == "delivered" and letter.address.startswith("mailto:") for letter in letters)
    missing = number - len({name for name, _ in world.servers.mails})
    result.count("mails called delivered that never came", [f"{missing} of {number}"] if missing > 0 else [])


def _at(key: str, spans: list[tuple[float, float]]) -> bool:
    """Whether the moment in a letter's key lies in one of these spans of pond time [s]."""
    moments = [int(part) / 1000 for part in key.split("/") if part.isdigit() and len(part) == 13]
    return any(begin <= moment <= end for moment in moments for begin, end in spans)


def _count_life(books: Books, result: Result) -> None:
    """The process that lived longest: after its first day, and at its end."""
    by_process: dict[float, list[tuple[float, Figures]]] = {}
    for began, now, found in books.life:
        by_process.setdefault(began, []).append((now, found))
    began, life = max(by_process.items(), key=lambda item: item[1][-1][0] - item[0])
    result.lived_days = (life[-1][0] - began) / DAY_S
    result.first_day = next((found for now, found in life if now - began >= DAY_S), life[0][1])
    result.last_day = life[-1][1]
    growth = result.last_day.mb - result.first_day.mb
    result.count("memory grown [MB]", [f"{growth:.1f}"] if growth > GROWTH_MB else [])
    more = (result.last_day.files - result.first_day.files, result.last_day.threads - result.first_day.threads)
    result.count("files or threads grown", [str(more)] if max(more) > 2 else [])


def report(result: Result, seed: int) -> Iterator[str]:
    """Lines for people."""
    yield (
        f"{result.days:g} pond days in {result.seconds / 60:.1f} min, seed {seed}: {result.readings} readings stored, "
        f"{result.alarms} alarms, letters {result.letters}, {result.acts} acts"
    )
    yield f"{result.starts} starts of the service"
    yield f"letters sent once more after a card that took nothing lost its power: {len(result.again)}"
    yield f"process of {result.lived_days:.0f} days: {result.first_day} after its first, {result.last_day} at its end"
    for name, times in sorted(result.faults.items()):
        yield f"  {name:<34}{times:>4}"
    for what, found in result.wrong.items():
        yield f"  {what:<52}{len(found):>4}"
        yield from (f"      {each[:1500]}" for each in found[:8])


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=float, default=365)
    parser.add_argument("--windows", type=int, help=f"one every {EVERY_DAYS:g} days where it is not given")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--log", type=Path, help="where to leave what the service wrote")
    args = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # not without taking all of it down
    windows = args.windows or max(1, round(args.days / EVERY_DAYS))
    print(f"seed {args.seed}, begun {datetime.now().astimezone():%Y-%m-%d %H:%M}", flush=True)
    result = run(args.days, windows, args.seed, args.log, lambda line: print(line, flush=True))
    print("\n".join(report(result, args.seed)))
    return 0 if result.well else 1


if __name__ == "__main__":
    sys.exit(main())
