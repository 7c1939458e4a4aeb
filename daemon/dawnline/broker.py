"""The MQTT broker: its settings and one way to make a client for it, for the probes and for delivery."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, Self, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    model_validator,
)

from dawnline.duration import SECOND_MS, Duration
from dawnline.errors import SettingsError
from dawnline.secret import SecretField

if TYPE_CHECKING:
    from paho.mqtt.client import Client

PLAIN_PORT, TLS_PORT = 1883, 8883  # IANA service names mqtt and secure-mqtt
RECONNECT_S = (1, 30)  # machine time: first and longest pause between two attempts
DEFAULT_WINDOW = 20  # mosquitto's own max_inflight_messages
CONNECT_TIMEOUT_S = 5.0  # per attempt, for TCP and for the TLS handshake


def _host(text: str) -> str:
    # A host that cannot be encoded raises a UnicodeError in the client's own thread, and ends it silently.
    try:
        text.encode("idna")
    except UnicodeError:
        raise ValueError(f'expected a host name or address, such as "broker.local", found {text!r}') from None
    return text


def _beside_the_configuration(path: Path | None, info: ValidationInfo) -> Path | None:
    folder: Path = (info.context or {}).get("folder", Path())
    return None if path is None else folder / path


CaFile: TypeAlias = Annotated[Path | None, AfterValidator(_beside_the_configuration)]
"""The authority that signed a server's certificate; a relative path is relative to the configuration file."""


class MqttSettings(BaseModel):
    """`[mqtt]`: the broker, MQTT 3.1.1.

    `keepalive` is in milliseconds once read. `client_id` is the stem of the client ids (see `client_id`). `window` is
    how many messages the broker sends ahead of our acknowledgements, its max_inflight_messages; at half we commit.
    With `tls` the default port is 8883, and `ca_file` is the authority that signed the broker's certificate,
    where it is not one the system trusts; a relative path is relative to the configuration file.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    host: Annotated[str, Field(min_length=1, max_length=253, pattern=r"^[^\s/@]+$"), AfterValidator(_host)]
    port: Annotated[int, Field(ge=1, le=65535)] = PLAIN_PORT
    username: Annotated[str, Field(min_length=1)] | None = None
    password: SecretField | None = None
    client_id: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]{1,48}$")] | None = None
    keepalive: Annotated[Duration, Field(ge=5 * SECOND_MS, le=65_535 * SECOND_MS)] = 60 * SECOND_MS
    window: Annotated[int, Field(ge=1, le=10_000)] = DEFAULT_WINDOW
    tls: bool = False
    ca_file: CaFile = None

    @property
    def link(self) -> str:
        """The name of the link to this broker, under which its receipts are kept."""
        return f"mqtt:{self.host}:{self.port}"

    @model_validator(mode="before")
    @classmethod
    def _port_follows_tls(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and data.get("tls") is True and "port" not in data:
            return {**data, "port": TLS_PORT}
        return data

    @model_validator(mode="after")
    def _belongs_together(self) -> Self:
        if self.ca_file is not None and not self.tls:
            raise ValueError("`ca_file` is of no use without `tls = true`: add that, or take `ca_file` away")
        if self.password is not None and self.username is None:
            raise ValueError("`password` needs `username` beside it")
        return self


class Will(NamedTuple):
    """What the broker publishes for us when we are gone without a goodbye."""

    topic: str
    payload: str
    qos: int = 1
    retain: bool = True


def client_id(settings: MqttSettings, pond: str, role: str) -> str:
    """A client id: the same over restarts, another for each pond and each role ("probes", ...).

    Two clients with one id throw each other out for ever; a persistent session hangs on the id. Names that
    differ only in what an id cannot hold are told apart by three bytes of a hash.

    >>> client_id(MqttSettings(host="localhost"), "Heron Lane", "probes")
    'dawnline-heron-lane-3cc72a-probes'
    """
    if settings.client_id is not None:
        return f"{settings.client_id}-{role}"
    slug = re.sub(r"[^a-z0-9]+", "-", pond.lower()).strip("-")[:32]
    mark = hashlib.blake2b(pond.encode("utf-8", "surrogatepass"), digest_size=3).hexdigest()
    return "-".join(part for part in ("dawnline", slug, mark, role) if part)


def make_client(
    settings: MqttSettings,
    *,
    client_id: str,
    clean_session: bool,
    manual_ack: bool = False,
    will: Will | None = None,
) -> Client:
    """A client, configured and not yet connecting: set its callbacks, then `connect_to` and `loop_start()`.

    It tries again for ever, after pauses of 1 to 30 s. Every callback must catch what it raises: an exception
    that leaves one would end the client's thread silently (here it is logged by the library instead).
    Raises SettingsError for a secret or a CA file that cannot be read.
    """
    from paho.mqtt.client import MQTTv311
    from paho.mqtt.enums import CallbackAPIVersion

    from dawnline.mqtt_client import PieceClient

    client = PieceClient(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        clean_session=clean_session,
        protocol=MQTTv311,
        manual_ack=manual_ack,
    )
    client.suppress_exceptions = True
    client.connect_timeout = CONNECT_TIMEOUT_S
    client.reconnect_delay_set(*RECONNECT_S)
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password.reveal() if settings.password else None)
    if settings.tls:
        _use_tls(client, settings.ca_file)
    if will is not None:
        client.will_set(will.topic, will.payload, qos=will.qos, retain=will.retain)
    return client


def connect_to(client: Client, settings: MqttSettings) -> None:
    """Say where to connect; the network thread does it, and goes on trying while the broker is away."""
    client.connect_async(settings.host, settings.port, keepalive=round(settings.keepalive / SECOND_MS))


def _use_tls(client: Client, ca_file: Path | None) -> None:
    import ssl

    try:
        context = ssl.create_default_context(cafile=None if ca_file is None else str(ca_file))
    except (OSError, ValueError) as error:
        raise SettingsError(f"[mqtt] ca_file: expected PEM certificates in {ca_file} ({error})") from None
    if ca_file is not None:
        # Python 3.13 asks for extensions that a home-made authority rarely has; chain and name stay checked.
        context.verify_flags &= ~ssl.VERIFY_X509_STRICT
    client.tls_set_context(context)
