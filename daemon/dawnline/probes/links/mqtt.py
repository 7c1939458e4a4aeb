"""The MQTT link: QoS 1, persistent session, acknowledged by hand once a message is on disk.

What this rests on: the client id never changes; the broker keeps our session while we are away and sends
again what it has no acknowledgement for; an exception that left a callback would end the client's thread, so
none may. A message that cannot be used is acknowledged at once: its redelivery could not be used either, and
unacknowledged messages fill the broker's window (20), after which it sends nothing more. A topic that the
broker's access list denies looks granted (seen with mosquitto): only the silence of the probe tells.
"""

from __future__ import annotations

import hashlib
import ssl
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, ParamSpec

from dawnline.broker import MqttSettings, connect_to, make_client
from dawnline.probes.dialects.payload import read_payload
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.intake import Arrival, Intake, Measured, Receipt
from dawnline.probes.links.ledger import Key, Ledger
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.tally import Tally

if TYPE_CHECKING:
    from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
    from paho.mqtt.reasoncodes import ReasonCode

P = ParamSpec("P")

QOS = 1
STOP_S = 1.8  # machine time
UNANSWERED = "the broker closed the connection without an answer; does this port expect TLS (or no TLS)?"
ONLY_QOS_0 = "the broker grants only QoS 0: what it sends while we are away is lost"


class MqttLink:
    """Takes messages on the topics of `routes` from one broker into the intake.

    `known` are receipts of messages that are on disk and may not have been acknowledged; those of other
    links are passed over.
    `window`, 20, is mosquitto's default max_inflight_messages: the broker sends no more than that ahead of
    our acknowledgements, so commit and acknowledge before as many have come.
    """

    window: int | None = 20

    def __init__(
        self,
        settings: MqttSettings,
        client_id: str,
        routes: Sequence[tuple[str, Route]],
        intake: Intake,
        known: Iterable[Receipt] = (),
    ) -> None:
        self.name = f"mqtt:{settings.host}:{settings.port}"
        self._settings, self._client_id = settings, client_id
        self._topics = tuple(dict.fromkeys(topic for topic, _ in routes))
        self._routings = {t: Routing([route for topic, route in routes if topic == t]) for t in self._topics}
        self._intake = intake
        self._ledger = Ledger((mid, digest) for link, mid, digest in known if link == self.name)
        self._tally = Tally(self.name)
        self._client: Client | None = None
        self._stopped = False
        self._turned_away = False
        self._online = False
        self._lock = threading.Lock()  # an acknowledgement must not slip into the next session

    def start(self) -> None:
        """Begin; a broker that is not there is waited for.

        Raises SettingsError for a secret or a CA file that cannot be read.
        """
        client = make_client(self._settings, client_id=self._client_id, clean_session=False, manual_ack=True)
        client.on_connect = self._caught(self._on_connect)
        client.on_connect_fail = self._caught(self._on_connect_fail)
        client.on_disconnect = self._caught(self._on_disconnect)
        client.on_subscribe = self._caught(self._on_subscribe)
        client.on_message = self._caught(self._on_message)
        self._client = client
        connect_to(client, self._settings)
        client.loop_start()

    def stop(self) -> None:
        """End; returns within 2 s (machine time). What was not acknowledged will be sent again."""
        self._stopped = True
        if self._client is not None:
            self._client.disconnect()
            # loop_stop waits for its thread, which may sit in a connection attempt for seconds.
            ending = threading.Thread(target=self._client.loop_stop, daemon=True)
            ending.start()
            ending.join(STOP_S)
        self._tally.stopped()

    def report(self) -> LinkReport:
        """How it is doing. Starts the client's thread again should it ever have died."""
        if self._client is not None and not self._stopped and self._client.loop_start() == 0:
            self._tally.lost("the client's thread had died; started again")
        return self._tally.report()

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """These arrivals are on disk: tell the broker. After the commit only; from any thread.

        Without a connection nothing is sent: the broker will send those messages again, and they are known.
        """
        for receipt in receipts:
            if receipt.link == self.name:
                self._commit((receipt.mid, receipt.digest))

    def _commit(self, key: Key) -> None:
        with self._lock:
            if self._ledger.commit(key):
                self._send_acknowledgement(key[0])

    def _send_acknowledgement(self, mid: int) -> None:
        if self._online and self._client is not None:
            self._client.ack(mid, QOS)

    # ------------------------------------------------------------ called by the client's thread

    def _caught(self, callback: Callable[P, None]) -> Callable[P, None]:
        def call(*args: P.args, **kwargs: P.kwargs) -> None:
            try:
                callback(*args, **kwargs)
            except Exception as error:  # noqa: BLE001  it would end the client's thread
                self._tally.fault(error)

        return call

    def _on_connect(self, client: Client, _: Any, flags: ConnectFlags, code: ReasonCode, __: Any) -> None:
        if code.is_failure:
            self._turned_away = True
            self._tally.turned_away(f"the broker refuses us: {code}")
            return
        with self._lock:
            if not flags.session_present:
                self._ledger.new_session()
            self._online = True
        self._tally.connected()
        # Also into a session that is still there: topics may have been added since.
        client.subscribe([(topic, QOS) for topic in self._topics])

    def _on_connect_fail(self, _: Client, __: Any) -> None:
        # The library calls this while it handles the error, and does not pass it on.
        error = sys.exception()
        text = f"no connection: {error}"
        if isinstance(error, ssl.SSLError):
            self._tally.turned_away(text)
        else:
            self._tally.trouble("waiting", text)

    def _on_disconnect(self, _: Client, __: Any, ___: DisconnectFlags, code: ReasonCode, ____: Any) -> None:
        with self._lock:
            was_online, self._online = self._online, False
        turned_away, self._turned_away = self._turned_away, False
        if self._stopped or turned_away:
            return
        if was_online:
            self._tally.lost(f"connection lost: {code}")
        else:
            self._tally.trouble("waiting", UNANSWERED)

    def _on_subscribe(self, _: Client, __: Any, ___: int, codes: Sequence[ReasonCode], ____: Any) -> None:
        for topic, code in zip(self._topics, codes, strict=False):
            if code.is_failure:
                self._tally.turned_away(f"the broker refuses the topic {topic}: {code}")
            elif code.value < QOS:
                self._tally.trouble("connected", f"{topic}: {ONLY_QOS_0}")

    def _on_message(self, _: Client, __: Any, message: MQTTMessage) -> None:
        if self._stopped:
            return  # not acknowledged: it will be sent again
        self._tally.heard()
        topic, key = _topic(message), _key(message)
        if message.qos == 0:
            self._take(topic, message, None)
            return
        seen = self._ledger.arrived(key, duplicate=message.dup)
        if seen == "committed":
            with self._lock:
                self._send_acknowledgement(message.mid)
        elif seen == "new":
            try:
                if not self._take(topic, message, Receipt(self.name, *key)):
                    self._commit(key)
            except BaseException:
                self._ledger.forget(key)
                raise

    def _take(self, topic: str, message: MQTTMessage, receipt: Receipt | None) -> bool:
        """Put what the message says into the intake; false where it says nothing that can be used."""
        try:
            values = self._decode(topic, bytes(message.payload))
        except Exception as error:  # noqa: BLE001  a bug of ours must not hold up the window
            self._tally.fault(error)
            return False
        if not values:
            return False
        self._tally.good()
        arrival = Arrival(self.name, values, undated=message.retain, receipt=receipt)
        if not self._intake.put(arrival, block=False):
            self._tally.dropped()
        return True

    def _decode(self, topic: str, payload: bytes) -> tuple[Measured, ...]:
        routing = self._routings.get(topic)
        if routing is None:
            # The session remembers the topics of an earlier configuration.
            self._tally.refused(Refused(Refusal.UNKNOWN_TOPIC, shown(topic)))
            if self._client is not None and topic:
                self._client.unsubscribe(topic)
            return ()
        fields = read_payload(payload)
        if isinstance(fields, Refused):
            self._tally.refused(fields)
            return ()
        routed = routing.route(fields)
        for refused in routed.refused:
            self._tally.refused(refused)
        return routed.values


def _topic(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return ""


def _key(message: MQTTMessage) -> Key:
    said = _topic(message).encode() + bytes(message.payload)
    return message.mid, hashlib.blake2b(said).digest()[:8]
