"""Who wants a message of a shared connection, and who has it on disk already.

A message is acknowledged when every pond that wants it has stored it. While a pond is away (its store cannot be opened,
its watch is starting again) what is its own stays unacknowledged, so that the broker sends it once more; but what
nobody acknowledges takes up the broker's window, which all ponds share: beyond a quarter of it, it is let go.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from dawnline.probes.links.ledger import Key, Ledger
from dawnline.probes.links.tally import Tally


class Member(Protocol):
    """The link of one pond, as the connection that it shares knows it."""

    topics: tuple[str, ...]
    ledger: Ledger
    tally: Tally

    def connected(self, *, anew: bool) -> None:
        """There is a connection; `anew` where the broker has forgotten us."""

    def take(self, topic: str, payload: bytes, key: Key | None, *, retained: bool) -> bool:
        """Take a message; false where it says nothing that can be used. `key` is None for one without a receipt."""

    def unknown_topic(self, topic: str) -> None:
        """A message of a topic that nobody wants any more."""


class Seat:
    """The place of one pond at the connection: its topics, and the link that takes them, or None while it is away."""

    def __init__(self, topics: Iterable[str]) -> None:
        self.topics = tuple(dict.fromkeys(topics))
        self.ledger = Ledger(())
        self.link: Member | None = None
        self.let_go = 0

    def arrived(self, key: Key, *, duplicate: bool, most: int) -> str:
        """What this pond is to do with a message: "new", "pending" or "committed"."""
        seen = self.ledger.arrived(key, duplicate=duplicate)
        if seen == "new" and self.link is None and len(self.ledger) > most:
            self.ledger.forget(key)
            self.let_go += 1
            return "committed"
        return seen


class Seats:
    """The ponds at one connection. `out` counts the messages that are not acknowledged. Guarded by the connection."""

    def __init__(self, window: int) -> None:
        self._most_away = max(1, window // 4)
        self._by_pond: dict[str, Seat] = {}
        self._by_topic: dict[str, list[Seat]] = {}
        self._holders: dict[Key, int] = {}  # how many ponds have yet to store it

    @property
    def out(self) -> int:
        """Messages that the broker waits for."""
        return len(self._holders)

    @property
    def topics(self) -> list[str]:
        """Every topic that a pond wants."""
        return list(self._by_topic)

    def links(self) -> list[Member]:
        """The links of the ponds that are there."""
        return [seat.link for seat in self._by_pond.values() if seat.link is not None]

    def of(self, topic: str) -> list[Seat]:
        """The ponds that want this topic."""
        return self._by_topic.get(topic, [])

    def keep(self, pond: str, topics: Iterable[str]) -> None:
        """A seat for this pond: what comes on these topics is its own, whether it is there yet or not."""
        seat = self._by_pond[pond] = Seat(topics)
        for topic in seat.topics:
            self._by_topic.setdefault(topic, []).append(seat)

    def join(self, pond: str, link: Member) -> int:
        """The pond is there. Returns how many messages could not wait for it."""
        if pond not in self._by_pond:
            self.keep(pond, link.topics)
        seat = self._by_pond[pond]
        lost, seat.let_go = seat.let_go, 0
        seat.link, seat.ledger = link, link.ledger
        return lost

    def leave(self, link: Member) -> None:
        """The pond is away; what it had not stored stays out."""
        for seat in self._by_pond.values():
            if seat.link is link:
                seat.link = None

    def new_session(self) -> None:
        """The broker has forgotten us, and what it had sent."""
        for seat in self._by_pond.values():
            seat.ledger.new_session()
        self._holders.clear()

    def arrived(self, topic: str, key: Key, *, duplicate: bool) -> list[Member] | None:
        """The links that are to take this message; None where it is to be acknowledged: all have it on disk."""
        new, out = [], 0
        for seat in self.of(topic):
            seen = seat.arrived(key, duplicate=duplicate, most=self._most_away)
            out += seen != "committed"
            if seen == "new" and seat.link is not None:
                new.append(seat.link)
        if not out:
            self._holders.pop(key, None)
            return None
        self._holders[key] = out
        return new

    def committed(self, link: Member, key: Key) -> bool:
        """The message is on this pond's disk; true where it is now to be acknowledged."""
        if not link.ledger.commit(key):
            return False
        left = self._holders.get(key, 1) - 1
        if left > 0:
            self._holders[key] = left
            return False
        self._holders.pop(key, None)
        return True
