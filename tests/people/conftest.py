"""A desk and the people it tells, turned by the minute: conditions in, messages out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.desk import Desk
from dawnline.catalogue_file import shipped
from dawnline.duration import MINUTE_MS
from dawnline.event import Delivered, Message, Priority
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.reach import Reach
from dawnline.people.person import Person
from dawnline.people.telling import Telling

ZONE = ZoneInfo("Europe/Berlin")
DAY = datetime(2026, 6, 10, tzinfo=ZONE)
ADA = Person("Ada", ("console:",))
BO = Person("Bo", ("mailto:bo@example.org",), order=2)
MIDNIGHT = 1_781_042_400_000  # Wed 10 June 2026, 00:00 in Berlin
LOW, CRASH, SLIDE = ("ph-low", "ph"), ("ph-crash", "ph"), ("night-slide", "ph")


@dataclass
class House:
    """The alarms of `on` stand, each with its priority; `run` turns the minutes."""

    people: list[Person]
    at: int
    on: dict[tuple[str, str | None], Priority] = field(default_factory=dict)
    messages: list[Message] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)  # what an alarm says it saw
    night: str = "Last night: 6.9."

    def __post_init__(self) -> None:
        self.desk = Desk(shipped(), ZONE)
        self.reach = Reach()
        self.telling = Telling(self.people, "Heron Lane", self.desk, self.reach, night=lambda at: self.night)
        self.known: set[tuple[str, str | None]] = set()

    def run(self, until: str, day: int = 0) -> list[Message]:
        """Minutes until that time of day; gives the messages of these minutes."""
        hour, minute = (int(part) for part in until.split(":"))
        end = round((DAY + timedelta(days=day, hours=hour, minutes=minute)).timestamp() * 1000)
        before = len(self.messages)
        while self.at + MINUTE_MS <= end:
            self.at += MINUTE_MS
            self.known |= set(self.on)
            effects = self.desk.tick(self.at)
            for alarm, probe in sorted(self.known, key=str):
                met = (alarm, probe) in self.on
                condition = Condition.MET if met else Condition.CLEAR
                priority = self.on.get((alarm, probe))
                effects += self.desk.see(
                    Finding(alarm, probe, self.at, condition, 6.4, self._fact(alarm, met), priority)
                )
            if self.reach.ways or ("delivery-failing", None) in self.desk.memory:
                effects += self.desk.see(self.reach.finding(self.at))
            self.telling.take(effects)
            self.messages += self.telling.decide(self.at)
        return self.messages[before:]

    def _fact(self, alarm: str, met: bool) -> str:
        return self.facts.get(alarm if met else f"{alarm} over", "evidence")

    def act(self, move: str, episode: int, actor: str = "ada", lasting: int = 0) -> list[Message]:
        """Acknowledge, shelve or unshelve; gives what follows at once."""
        words = (episode, self.at, self.at + lasting, actor) if move == "shelve" else (episode, self.at, actor)
        self.telling.take(getattr(self.desk, move)(*words))
        found = self.telling.decide(self.at)
        self.messages += found
        return found

    def ended(self, message: Message, outcome: str = "retry") -> None:
        """How the delivery of a message to all its addresses ended."""
        for address in message.addresses:
            self.reach.take(Delivered(f"{message.key}/{address}", self.at, outcome, "no route"))  # type: ignore[arg-type]


def minute(message: Message) -> str:
    """When, to the minute, in the pond's zone."""
    return f"{datetime.fromtimestamp(message.at / 1000, ZONE):%d %H:%M}"


@pytest.fixture
def house() -> Callable[..., House]:
    """`house(person, ..., begins="14:00")` begins at that time of the first day, with nothing known."""

    def make(*people: Person, begins: str = "14:00") -> House:
        hour, minute = (int(part) for part in begins.split(":"))
        at = round((DAY + timedelta(hours=hour, minutes=minute)).timestamp() * 1000)
        return House(list(people), at)

    return make


@pytest.fixture
def told() -> Callable[[list[Message]], list[tuple[str, str, str]]]:
    """Minute, person and reason of each message."""
    return lambda messages: [(minute(each), each.person, each.why) for each in messages]
