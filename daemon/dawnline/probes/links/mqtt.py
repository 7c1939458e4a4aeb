"""The MQTT link of one pond: its topics, what their payloads say, and what of it is on disk."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Sequence
from math import inf
from typing import Final

from dawnline.broker import MqttSettings
from dawnline.probes.dialects.payload import read_payload
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.intake import Arrival, Intake, Measured, Receipt, overheard
from dawnline.probes.links.echo import Echo
from dawnline.probes.links.ledger import REMEMBERED, Key, Ledger, digest_of
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.mqtt_connection import MqttConnection
from dawnline.probes.links.mqtt_ear import Ear
from dawnline.probes.links.tally import Tally

QUIET_S: Final = 5.0  # machine time: a broker that has more to send and may send it does not wait so long


class MqttLink:
    """Takes messages on the topics of `routes` from one broker into the intake.

    `connection` is one that other ponds share, at which `pond` has its seat; without, the link has one of its own.
    `known` are receipts of messages that are on disk and may not have been acknowledged; those of other links are
    passed over. `window` is how many messages the broker sends ahead of our acknowledgements.
    """

    def __init__(
        self,
        settings: MqttSettings,
        client_id: str,
        routes: Sequence[tuple[str, Route]],
        intake: Intake,
        known: Iterable[Receipt] = (),
        *,
        connection: MqttConnection | None = None,
        pond: str = "",
    ) -> None:
        self.connection = connection or MqttConnection(settings, client_id)
        self.name = self.connection.name
        self.window: int | None = self.connection.window
        self.topics = tuple(dict.fromkeys(topic for topic, _ in routes))
        known = list(known)
        self.ledger = Ledger((mid, digest) for link, mid, digest in known if link == self.name)
        self.tally = Tally(self.name)
        self._pond = pond
        self._routings = {t: Routing([route for topic, route in routes if topic == t]) for t in self.topics}
        self._intake = intake
        self._shared = connection is not None
        self._echo = Echo(digest for link, _, digest in known if link == overheard(self.name))
        self._free_s = inf  # since when the broker may send and does not (machine time)
        self._in_order = threading.Lock()  # what the session brings again goes behind what the ear heard
        self._ear = Ear(settings, f"{client_id}-ear", self.topics, self._echo, self._overhear)
        if not self._shared:
            self.connection.join(pond, self)

    def start(self) -> None:
        """Begin; a broker that is not there is waited for.

        Raises SettingsError for a secret or a CA file that cannot be read.
        """
        if self._shared:
            self.connection.join(self._pond, self)
        else:
            self.connection.start()

    def stop(self) -> None:
        """End; returns within 2 s (machine time). What was not acknowledged will be sent again."""
        self._ear.stop()
        if self._shared:
            self.connection.leave(self)
        else:
            self.connection.stop()
        self.tally.stopped()

    def report(self) -> LinkReport:
        """How it is doing. Starts the client's thread again should it ever have died."""
        if self.connection.revive():
            self.tally.lost("the client's thread had died; started again")
        return self.tally.report()

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """These arrivals are on disk: tell the broker. After the commit only; from the core."""
        self._ear.stop()
        if self.pressing():  # until now the broker had to wait
            self._free_s = time.monotonic()
        self._acknowledge(receipts)

    def _acknowledge(self, receipts: Iterable[Receipt]) -> None:
        self.connection.committed(self, [(mid, digest) for link, mid, digest in receipts if link == self.name])

    def pressing(self) -> bool:
        """Whether the broker may soon wait for acknowledgements."""
        return self.connection.pressing

    def let_go(self, receipts: Sequence[Receipt]) -> Sequence[Receipt]:
        """These cannot be stored now. Where the broker may wait for them soon, a second subscription hears what comes.

        A shared window is all ponds': while one store takes nothing the others' readings must go on. So the oldest
        of these beyond a quarter of it are acknowledged, and given back.
        """
        if not self._shared:
            if self.pressing():
                self._ear.start()
            heard = [each for each in receipts if each.link == overheard(self.name)]
            return heard[: max(0, len(heard) - REMEMBERED)]
        over = len(receipts) - max(1, self.connection.window // 4)
        gone = receipts[:over] if over > 0 else ()
        self._acknowledge(gone)
        return gone

    def all_heard(self) -> bool:
        """Whether all that was overheard has come by the session, too."""
        return self._echo.through()

    def connected(self, *, anew: bool) -> None:
        """There is a connection; `anew` where the broker has forgotten us: what the ear heard will not come again."""
        self._free_s = inf
        if anew:
            self._echo.forget()

    def take(self, topic: str, payload: bytes, key: Key | None, *, retained: bool) -> bool:
        """Put what a message says into the intake; false where it says nothing that can be used.

        `key` is the message's where the broker waits for an acknowledgement.
        """
        values = self._values(topic, payload)
        if not values:
            return False
        receipt = None if key is None else Receipt(self.name, *key)
        now_s, free_s = time.monotonic(), self._free_s
        self._free_s = now_s
        if now_s - free_s > QUIET_S and not self.pressing():
            self._echo.quiet()
        with self._in_order:
            if not self._echo.by_session(digest_of(topic, payload)):
                values = ()  # the ear heard it, and it is in the intake or beyond: this is to be acknowledged after it
                if receipt is None:
                    return False
            self._put(Arrival(self.name, values, undated=retained, receipt=receipt))
        return True

    def _overhear(self, topic: str, payload: bytes) -> None:
        """The ear heard a message."""
        values = self._values(topic, payload)
        digest = digest_of(topic, payload)
        with self._in_order:
            if values and self._echo.by_ear(digest):
                receipt = Receipt(overheard(self.name), 0, digest)
                if not self._put(Arrival(self.name, values, receipt=receipt)):
                    self._echo.unheard(digest)

    def _put(self, arrival: Arrival) -> bool:
        self.tally.good()
        taken = self._intake.put(arrival, block=False)
        if not taken:
            self.tally.dropped()
        return taken

    def _values(self, topic: str, payload: bytes) -> tuple[Measured, ...]:
        self.tally.heard()
        try:
            return self._decode(topic, payload)
        except Exception as error:  # noqa: BLE001  a bug of ours must not hold up the window
            self.tally.fault(error)
            return ()

    def unknown_topic(self, topic: str) -> None:
        """A message of a topic that nobody wants any more."""
        self.tally.heard()
        self.tally.refused(Refused(Refusal.UNKNOWN_TOPIC, shown(topic)))

    def _decode(self, topic: str, payload: bytes) -> tuple[Measured, ...]:
        fields = read_payload(payload)
        if isinstance(fields, Refused):
            self.tally.refused(fields)
            return ()
        routed = self._routings[topic].route(fields)
        for refused in routed.refused:
            self.tally.refused(refused)
        return routed.values
