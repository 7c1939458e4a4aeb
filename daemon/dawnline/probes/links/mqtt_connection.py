"""One connection to a broker, for one pond or for many: QoS 1, persistent session, acknowledged by hand.

What this rests on: the client id never changes; the broker keeps our session while we are away and sends again what it
has no acknowledgement for; an exception that left a callback would end the client's thread, so none may. A message
that cannot be used is acknowledged at once: its redelivery could not be used either, and unacknowledged messages fill
the broker's window, after which it sends nothing more. A topic that the broker's access list denies looks granted (seen
with mosquitto): only the silence of the probe tells.
"""

from __future__ import annotations

import ssl
import sys
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final, ParamSpec

from dawnline.broker import DEFAULT_WINDOW, MqttSettings, connect_to, make_client
from dawnline.probes.links.ledger import Key, digest_of
from dawnline.probes.links.mqtt_seats import Member, Seats

if TYPE_CHECKING:
    from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
    from paho.mqtt.reasoncodes import ReasonCode

P = ParamSpec("P")

QOS: Final = 1
STOP_S: Final = 1.8  # machine time
QUIET_S: Final = 1.0  # machine time without a message, after which a broker may be waiting for us
UNANSWERED: Final = "the broker closed the connection without an answer; does this port expect TLS (or no TLS)?"
ONLY_QOS_0: Final = "the broker grants only QoS 0: what it sends while we are away is lost"


class MqttConnection:
    """A client of one broker. Ponds take a `seat` and `join` it with their links; it ends with `stop`."""

    def __init__(self, settings: MqttSettings, client_id: str) -> None:
        self.name = settings.link
        self.window = settings.window
        self._settings, self._client_id = settings, client_id
        self._seats = Seats(self.window)
        self._asked: dict[int, Sequence[str]] = {}  # subscriptions under way
        self._client: Client | None = None
        self._stopped = self._renewing = self._turned_away = self._online = False
        self._heard_s = time.monotonic()
        self._lock = threading.Lock()  # an acknowledgement must not slip into the next session
        self._threads = threading.Lock()  # the client's thread is begun and ended by one at a time

    def keep(self, pond: str, topics: Iterable[str]) -> None:
        """Keep a seat for a pond that is not there yet: what comes for it is not acknowledged meanwhile."""
        with self._lock:
            self._seats.keep(pond, topics)

    def join(self, pond: str, link: Member) -> None:
        """The pond is there. What came while it was away is asked for once more, by connecting anew.

        What is on its way just then is left to be sent again too: it is newer than what the pond has missed.
        """
        with self._threads:
            with self._lock:
                self._renewing = self._client is not None and not self._stopped
                link.tally.dropped(self._seats.join(pond, link))
            if self._renewing:
                self._renew()

    def leave(self, link: Member) -> None:
        """The pond is away; it may come back."""
        with self._lock:
            self._seats.leave(link)

    def start(self) -> None:
        """Begin; a broker that is not there is waited for. A second call does nothing.

        Raises SettingsError for a secret or a CA file that cannot be read.
        """
        with self._threads:
            if self._client is not None or self._stopped:
                return
            client = make_client(self._settings, client_id=self._client_id, clean_session=False, manual_ack=True)
            client.on_connect = self.caught(self._on_connect)
            client.on_connect_fail = self.caught(self._on_connect_fail)
            client.on_disconnect = self.caught(self._on_disconnect)
            client.on_subscribe = self.caught(self._on_subscribe)
            client.on_message = self.caught(self.on_message)
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

    def revive(self) -> bool:
        """Start the client's thread again should it ever have died; true where it had."""
        if self._client is None or not self._threads.acquire(blocking=False):
            return False
        try:
            return not self._stopped and self._client.loop_start() == 0
        finally:
            self._threads.release()

    @property
    def pressing(self) -> bool:
        """Whether the broker may soon wait for us: half its window is out, or a default one's half and it is quiet."""
        out = self._seats.out
        if out >= max(1, self.window // 2):
            return True
        return out >= DEFAULT_WINDOW // 2 and time.monotonic() - self._heard_s > QUIET_S

    def committed(self, link: Member, keys: Iterable[Key]) -> None:
        """These messages are on this pond's disk. Acknowledged where no other pond has yet to store them.

        Without a connection nothing is sent: the broker will send those messages again, and they are known.
        """
        with self._lock:
            for key in keys:
                if self._seats.committed(link, key):
                    self._acknowledge(key[0])

    def _acknowledge(self, mid: int) -> None:
        if self._online and self._client is not None:
            self._client.ack(mid, QOS)

    def _renew(self) -> None:
        """Connect anew: the broker then sends everything again that it has no acknowledgement for."""
        assert self._client is not None
        self._client.disconnect()
        self._client.loop_stop()
        self._renewing = False
        connect_to(self._client, self._settings)
        self._client.loop_start()

    # ------------------------------------------------------------ called by the client's thread

    def caught(self, callback: Callable[P, None]) -> Callable[P, None]:
        """The callback, made safe for the client's thread."""

        def call(*args: P.args, **kwargs: P.kwargs) -> None:
            try:
                callback(*args, **kwargs)
            except Exception as error:  # noqa: BLE001  it would end the client's thread
                for link in self._seats.links()[:1]:
                    link.tally.fault(error)

        return call

    def _on_connect(self, client: Client, _: Any, flags: ConnectFlags, code: ReasonCode, __: Any) -> None:
        if code.is_failure:
            self._turned_away = True
            for link in self._seats.links():
                link.tally.turned_away(f"the broker refuses us: {code}")
            return
        with self._lock:
            if not flags.session_present:
                self._seats.new_session()
            for link in self._seats.links():
                link.connected(anew=not flags.session_present)
            self._online = True
            topics = self._seats.topics
        # Also into a session that is still there: topics may have been added since.
        _, mid = client.subscribe([(topic, QOS) for topic in topics])
        if mid is not None:
            self._asked[mid] = topics
        for link in self._seats.links():
            link.tally.connected()

    def _on_connect_fail(self, _: Client, __: Any) -> None:
        # The library calls this while it handles the error, and does not pass it on.
        error = sys.exception()
        text = f"no connection: {error}"
        for link in self._seats.links():
            if isinstance(error, ssl.SSLError):
                link.tally.turned_away(text)
            else:
                link.tally.trouble("waiting", text)

    def _on_disconnect(self, _: Client, __: Any, ___: DisconnectFlags, code: ReasonCode, ____: Any) -> None:
        with self._lock:
            was_online, self._online = self._online, False
        turned_away, self._turned_away = self._turned_away, False
        if self._stopped or self._renewing or turned_away:
            return
        for link in self._seats.links():
            if was_online:
                link.tally.lost(f"connection lost: {code}")
            else:
                link.tally.trouble("waiting", UNANSWERED)

    def _on_subscribe(self, _: Client, __: Any, mid: int, codes: Sequence[ReasonCode], ____: Any) -> None:
        for topic, code in zip(self._asked.pop(mid, ()), codes, strict=False):
            for link in [seat.link for seat in self._seats.of(topic) if seat.link is not None]:
                if code.is_failure:
                    link.tally.turned_away(f"the broker refuses the topic {topic}: {code}")
                elif code.value < QOS:
                    link.tally.trouble("connected", f"{topic}: {ONLY_QOS_0}")

    def on_message(self, _: Client | None, __: Any, message: MQTTMessage) -> None:
        """Share a message out among the ponds that want it."""
        if self._stopped:
            return  # not acknowledged: it will be sent again
        self._heard_s = time.monotonic()
        topic, payload = _topic(message), bytes(message.payload)
        seats = self._seats.of(topic)
        if not seats:
            self._stranger(topic, message)
            return
        if message.qos == 0:
            for link in [seat.link for seat in seats if seat.link is not None]:
                link.take(topic, payload, None, retained=message.retain)
            return
        key = message.mid, digest_of(topic, payload)
        with self._lock:
            if self._renewing:
                return
            takers = self._seats.arrived(topic, key, duplicate=message.dup)
            if takers is None:
                self._acknowledge(message.mid)
        for link in takers or ():
            try:
                wanted = link.take(topic, payload, key, retained=message.retain)
            except BaseException:
                link.ledger.forget(key)
                raise
            if not wanted:
                self.committed(link, [key])

    def _stranger(self, topic: str, message: MQTTMessage) -> None:
        """The session remembers the topics of an earlier configuration."""
        for link in self._seats.links()[:1]:
            link.unknown_topic(topic)
        if self._client is not None and topic:
            self._client.unsubscribe(topic)
        if message.qos:
            with self._lock:
                self._acknowledge(message.mid)


def _topic(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return ""
