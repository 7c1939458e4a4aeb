"""The MQTT link of one pond: its topics, what their payloads say, and what of it is on disk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dawnline.broker import MqttSettings
from dawnline.probes.dialects.payload import read_payload
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.intake import Arrival, Intake, Measured, Receipt
from dawnline.probes.links.ledger import Key, Ledger
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.mqtt_connection import MqttConnection
from dawnline.probes.links.tally import Tally


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
        self.ledger = Ledger((mid, digest) for link, mid, digest in known if link == self.name)
        self.tally = Tally(self.name)
        self._pond = pond
        self._routings = {t: Routing([route for topic, route in routes if topic == t]) for t in self.topics}
        self._intake = intake
        self._shared = connection is not None
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
        """These arrivals are on disk: tell the broker. After the commit only; from any thread."""
        self.connection.committed(self, [(mid, digest) for link, mid, digest in receipts if link == self.name])

    def pressing(self) -> bool:
        """Whether the broker may soon wait for acknowledgements."""
        return self.connection.pressing

    def let_go(self, receipts: Sequence[Receipt]) -> Sequence[Receipt]:
        """Of these, which cannot be stored now, acknowledge the oldest beyond a quarter of a shared window; gives them.

        All ponds have one window: while one store takes nothing the others' readings must go on.
        """
        over = len(receipts) - max(1, self.connection.window // 4)
        gone = receipts[:over] if self._shared and over > 0 else ()
        self.acknowledge(gone)
        return gone

    def take(self, topic: str, payload: bytes, key: Key | None, *, retained: bool) -> bool:
        """Put what a message says into the intake; false where it says nothing that can be used.

        `key` is the message's where the broker waits for an acknowledgement.
        """
        self.tally.heard()
        try:
            values = self._decode(topic, payload)
        except Exception as error:  # noqa: BLE001  a bug of ours must not hold up the window
            self.tally.fault(error)
            return False
        if not values:
            return False
        self.tally.good()
        receipt = None if key is None else Receipt(self.name, *key)
        if not self._intake.put(Arrival(self.name, values, undated=retained, receipt=receipt), block=False):
            self.tally.dropped()
        return True

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
