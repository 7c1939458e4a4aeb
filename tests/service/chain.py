"""From the alarm desk to a real server and back: people, store, post, worker and channels as the service has them, on a
clock of the test's own. Pond time and machine time are the same here, and a minute takes as long as its letters.
"""

from __future__ import annotations

import queue
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from dawnline.alarms.desk import Desk
from dawnline.catalogue_file import shipped
from dawnline.delivery.channels import Channels
from dawnline.delivery.settings import MailSettings
from dawnline.delivery.worker import Worker
from dawnline.event import Delivered, Message, Priority
from dawnline.letter import Letter, Marks
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.reach import Reach
from dawnline.people.person import Person
from dawnline.people.telling import Telling
from dawnline.service.post import Post, ended
from dawnline.store.batch import Batch
from dawnline.store.store import Store

ZONE = ZoneInfo("Europe/Berlin")
DAY = datetime(2026, 6, 10, tzinfo=ZONE)
MINUTE = 60_000
STEPS = 6  # in a minute
PATIENCE_S = 20.0


class PowerCutError(Exception):
    """Nothing more happens in this process."""


class Chain:
    """`on` holds the alarms that stand, with their priorities; `run` turns the minutes."""

    def __init__(self, folder: Path, people: list[Person], begins: str, mail: MailSettings | None = None) -> None:
        hour, minute = (int(part) for part in begins.split(":"))
        self.at = round((DAY + timedelta(hours=hour, minutes=minute)).timestamp() * 1000)
        self.on: dict[tuple[str, str | None], Priority] = {}
        self.known: set[tuple[str, str | None]] = set()
        self.messages: list[Message] = []
        self.attempts: list[tuple[str, str]] = []  # minute, subject
        self.people, self.folder, self.mail = people, folder, mail
        self.desk, self.reach = Desk(shipped(), ZONE), Reach()
        self.telling = Telling(people, "Heron Lane", self.desk, self.reach)
        self.whole_s = 5.0
        self.before_send: Callable[[Letter], None] = lambda letter: None
        self.before_record: Callable[[Delivered], None] = lambda delivered: None
        self.open()

    def open(self) -> None:
        """As at a start: what the store knows is all there is."""
        self.store = Store.open(self.folder / "pond.db", [("ph", "ph")])
        self.reports: queue.Queue[tuple[Letter, Any, str]] = queue.Queue()
        reports = self.reports  # a worker of a process that was cut reports to nobody
        marks = Marks(shipped().words["sent_again"], shipped().words["sent_again_text"])
        channels = Channels(self.mail, self.folder, StringIO(), marks=marks)
        self.worker = Worker(channels.send, lambda *words: reports.put(words), whole_s=self.whole_s)
        self.post = Post(self.worker, self.store.waiting(), now=lambda: self.at / 1000)

    def close(self) -> None:
        """Let go of everything."""
        self.worker.stop(0.1)
        self.store.close()

    def run(self, until: str, day: int = 0) -> list[Message]:
        """Minutes until that time of day; gives the messages of these minutes."""
        hour, minute = (int(part) for part in until.split(":"))
        end = round((DAY + timedelta(days=day, hours=hour, minutes=minute)).timestamp() * 1000)
        before = len(self.messages)
        while self.at + MINUTE <= end:
            for _ in range(STEPS):
                self.at += MINUTE // STEPS
                self.deliver()
            self.commit(self._minute())
        return self.messages[before:]

    def _minute(self) -> list[Message]:
        self.known |= set(self.on)
        effects = self.desk.tick(self.at)
        for alarm, probe in sorted(self.known, key=str):
            condition = Condition.MET if (alarm, probe) in self.on else Condition.CLEAR
            effects += self.desk.see(Finding(alarm, probe, self.at, condition, 6.4, "e", self.on.get((alarm, probe))))
        if self.reach.ways or ("delivery-failing", None) in self.desk.memory:
            effects += self.desk.see(self.reach.finding(self.at))
        self.telling.take(effects)
        found = self.telling.decide(self.at)
        self.messages += found
        return found

    def commit(self, messages: list[Message]) -> None:
        """One commit of messages alone; their letters are tried with the next step."""
        rows = self.post.write(messages)
        if rows:
            self.store.commit(Batch(letters=rows, in_flight=self.post.in_flight))

    def deliver(self) -> None:
        """Whatever is due: attempts committed, made, and their ends committed."""
        while tried := self.post.due():
            begun = self.store.commit(Batch(attempts=tried))
            for key in tried:
                letter = self.post._open[key][1]
                self.before_send(letter)
                self.attempts.append((self.clock(), letter.subject))
            self.post.send(tried, begun)
            while self.post.in_flight:
                delivered = ended(*self.reports.get(timeout=PATIENCE_S), self.at)
                self.before_record(delivered)
                self.store.commit(Batch(outcomes=[delivered]))
                self.post.outcome(delivered)
                self.reach.take(delivered)

    def cut(self) -> None:
        """The power fails here and comes back: nothing is left but the store."""
        with suppress(Exception):
            self.worker.stop(0.0)
        self.store.close()
        self.before_send, self.before_record = lambda letter: None, lambda delivered: None
        self.open()

    def clock(self) -> str:
        """The hour, in the pond's zone."""
        return f"{datetime.fromtimestamp(self.at / 1000, ZONE):%d %H:%M}"

    def left(self) -> list[str]:
        """Subjects of the letters that are still open."""
        return [row.subject for row in self.store.waiting()]
