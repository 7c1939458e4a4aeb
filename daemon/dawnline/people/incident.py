"""An incident: alarms that belong together, and what each person was told of them.

It begins with the first alarm that is told, gathers the later ones of its kind, and stays open for an hour after the
last of them is over: what comes back within that time is the same incident.
"""

from __future__ import annotations

from typing import Any, Final

from dawnline.duration import HOUR_MS
from dawnline.event import Change, Priority, Transition
from dawnline.state import Stateful

# Alarms of one kind are one event to the people: what the water does in a night, what the watch itself lacks.
# Every other alarm is a kind of its own.
WATER: Final = ("night-slide", "sudden-drop", "oxygen-low", "ph-low", "ph-crash")  # the gravest last
WATCH: Final = ("clock-unset", "probe-suspect", "no-data", "store-failing")
KIND: Final[dict[str, str]] = {**dict.fromkeys(WATER, "water"), **dict.fromkeys(WATCH, "watch")}
BY_DAY: Final = frozenset(("buffer-running-out", "calibration-due"))  # however urgent, they wake nobody
LINGERS_MS: Final = HOUR_MS
COURSE: Final = 24  # lines kept of what has happened
ITEMS: Final = 16  # episodes kept; those that are over go first
RECENT: Final = 8


def kind_of(alarm: str) -> str:
    """The kind of incident an alarm belongs to."""
    return KIND.get(alarm, alarm)


class Item(Stateful):
    """One episode of an alarm in an incident, as it was told last."""

    KEPT = ("episode", "alarm", "probe", "at", "since", "change", "priority", "value", "text", "ended_at", "news")

    def __init__(self) -> None:
        self.episode, self.alarm, self.text = 0, "", ""
        self.change: Change = "raised"
        self.priority: Priority = "low"
        self.probe: str | None = None
        self.at = self.since = self.ended_at = self.news = 0
        self.value: float | None = None

    def take(self, told: Transition, news: int) -> None:
        """The episode has become, or become again, something to tell; `news` counts what happened in its incident."""
        self.news = news
        self.episode, self.alarm, self.probe = told.id, told.alarm, told.probe
        self.at, self.since, self.change = told.at, told.since, told.change
        self.priority, self.value, self.text, self.ended_at = told.priority, told.value, told.text, 0


class Contact(Stateful):
    """What one person was told of one incident. `seen` counts the incident's news that they know."""

    KEPT = ("count", "opened", "first_at", "last_at", "recent", "seen", "top", "repeats", "next_repeat", "held_until")

    def __init__(self) -> None:
        self.opened = False  # a message has gone out in the incident's own thread
        self.top = -1  # the highest rank they were told of
        self.count = self.first_at = self.last_at = self.seen = self.repeats = 0
        self.recent: list[int] = []  # when the last messages with news went out
        self.next_repeat = 0  # 0: none is due
        self.held_until = 0  # 0: nothing waits for the morning

    def told(self, at: int, news: int, rank: int) -> None:
        """A message of this `rank` goes out that says all the incident's `news`."""
        self.first_at, self.top = self.first_at or at, max(self.top, rank)
        if news > self.seen:
            self.recent = [*self.recent, at][-RECENT:]
        self.count, self.last_at, self.seen, self.held_until = self.count + 1, at, news, 0


class Incident:
    """`news` counts what has happened; `ended` and `acted` are its count when an alarm was over last, and when
    somebody did something about one.
    """

    TIMES = ("opened_at", "closed_at", "asked_at")

    def __init__(self, kind: str = "", number: int = 0, at: int = 0) -> None:
        self.kind, self.number, self.opened_at = kind, number, at
        self.thread = f"{kind}/{number}/{at}"
        self.closed_at = 0  # 0: it goes on
        self.news = self.ended = self.acted = 0
        self.actor = ""  # who did it
        self.level = 0  # the order of those asked last
        self.asked_at = 0  # since when they have been asked in vain; 0: nothing is asked
        self.unreachable = False  # the last step of the order was made since nobody could be reached
        self.back = False  # it was over and has come back
        self.rests_until = self.rests_at = (
            0  # nothing is due before, while no more has happened; not part of the memory
        )
        self.items: dict[int, Item] = {}
        self.contacts: dict[str, Contact] = {}
        self.course: list[tuple[int, str, str, str, str]] = []  # at, alarm, probe, change, actor

    def take(self, told: Transition) -> None:
        """An alarm of this incident was raised, or is to be told anew."""
        self._happened(told)
        self.items.setdefault(told.id, Item()).take(told, self.news)
        self.back, self.closed_at = self.back or self.closed_at > 0, 0
        for episode in [e for e, item in self.items.items() if item.ended_at][: max(0, len(self.items) - ITEMS)]:
            del self.items[episode]

    def note(self, change: Transition) -> None:
        """Something else has happened to one of its alarms."""
        self._happened(change)
        if change.change == "returned":
            item = self.items[change.id]
            item.ended_at, item.value, item.text = change.at, change.value, change.text
            self.ended = self.news
        else:
            self.acted, self.actor = self.news, change.actor

    def _happened(self, change: Transition) -> None:
        self.news += 1
        self.course.append((change.at, change.alarm, change.probe or "", change.change, change.actor))
        del self.course[:-COURSE]

    def calls(self, rank: int) -> int:
        """The rank by which an alarm of this incident wakes people, is repeated and asks the next."""
        return min(rank, 1) if self.kind in BY_DAY else rank

    def contact(self, person: str) -> Contact:
        """What this person was told, begun where nothing was."""
        return self.contacts.setdefault(person, Contact())

    def shift(self, since: int, by: int) -> None:
        """Times of `since` [ms] and later lie `by` ms later in truth."""
        owners: list[tuple[Any, tuple[str, ...]]] = [(self, self.TIMES)]
        owners += [(item, ("at", "since", "ended_at")) for item in self.items.values()]
        owners += [
            (contact, ("first_at", "last_at", "next_repeat", "held_until")) for contact in self.contacts.values()
        ]
        for owner, names in owners:
            for name in names:
                if getattr(owner, name) >= since:
                    setattr(owner, name, getattr(owner, name) + by)
        self.course = [(at + by if at >= since else at, *rest) for at, *rest in self.course]  # type: ignore[misc]
        for contact in self.contacts.values():
            contact.recent = [at + by if at >= since else at for at in contact.recent]

    # ------------------------------------------------------------ memory

    _PLAIN = ("kind", "number", "opened_at", "thread", "closed_at", "news", "ended", "acted", "actor", "level",
              "asked_at", "unreachable", "back")  # fmt: skip

    def save(self) -> dict[str, Any]:
        """The memory as plain JSON values."""
        return {
            **{name: getattr(self, name) for name in self._PLAIN},
            "items": [item.save() for item in self.items.values()],
            "contacts": {person: contact.save() for person, contact in self.contacts.items()},
            "course": [list(line) for line in self.course],
        }

    @classmethod
    def restored(cls, saved: dict[str, Any]) -> Incident:
        """The incident that `save` gave. Raises KeyError, TypeError or ValueError for another shape."""
        found = cls(str(saved["kind"]), int(saved["number"]), int(saved["opened_at"]))
        for name in cls._PLAIN:
            value = saved[name]
            if type(value) is not type(getattr(found, name)):
                raise TypeError(f"an incident's {name} is {value!r}")
            setattr(found, name, value)
        for data in saved["items"]:
            item = Item()
            item.restore(data)
            found.items[item.episode] = item
        for person, data in saved["contacts"].items():
            contact = found.contact(person)
            contact.restore({**contact.save(), **data})  # a store of an earlier version may know less
        found.course = [(int(at), str(a), str(p), str(c), str(by)) for at, a, p, c, by in saved["course"]]
        return found
