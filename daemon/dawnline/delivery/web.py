"""One request by HTTP or HTTPS, for web hooks and the heartbeat: certificates checked, no secret in what is said."""

from __future__ import annotations

import base64
import ssl
from http.client import HTTPException
from typing import Final
from urllib.parse import parse_qsl, quote, unquote, urlsplit

import urllib3
from urllib3.connection import HTTPConnection, HTTPSConnection

from dawnline.delivery.later import LaterError
from dawnline.errors import DeliveryError
from dawnline.secret import veiled

STEP_S = 10.0  # connect, and each wait for bytes
LEAST_KEY: Final = 8  # characters: a shorter word of a path is a word
FAILURES: Final = (urllib3.exceptions.HTTPError, HTTPException, OSError, ValueError)


def connect(url: str) -> HTTPConnection:
    """A connection to the host of `url`, not yet open; certificates are checked."""
    parts = urlsplit(url)
    kind = HTTPSConnection if parts.scheme.lower() == "https" else HTTPConnection
    return kind(parts.hostname or "", parts.port or kind.default_port, timeout=STEP_S)


def path_of(url: str) -> str:
    """Path and query of `url`, fit for a request line."""
    parts = urlsplit(url)
    path = quote(parts.path or "/", safe="/%:@!$&'()*+,;=~-._")
    return f"{path}?{quote(parts.query, safe='/?%:@!$&()*+,;=~-._')}" if parts.query else path


def login(url: str) -> dict[str, str]:
    """The header for a user name and a password in `url` (RFC 7617), if there are any."""
    parts = urlsplit(url)
    if parts.username is None:
        return {}
    words = f"{unquote(parts.username)}:{unquote(parts.password or '')}"
    return {"Authorization": "Basic " + base64.b64encode(words.encode()).decode("ascii")}


def hidden(url: str) -> tuple[str, ...]:
    """All parts of `url` that may be a key: path and query, what stands in them, user name and password."""
    parts = urlsplit(url)
    words = [*parts.path.split("/"), *(value for _, value in parse_qsl(parts.query))]
    found = [url, path_of(url), parts.path, parts.query, *(word for word in words if len(word) >= LEAST_KEY)]
    if parts.username is not None:
        user, password = unquote(parts.username), unquote(parts.password or "")
        found += [f"{user}:{password}", password]
    return tuple(each for each in found if len(each) > 1)


def trouble(what: str, error: Exception, url: str) -> DeliveryError:
    """What went wrong on the way of `what`; neither path nor query of its address is in it."""
    return _trouble(what, veiled(str(error), *hidden(url)) or type(error).__name__, error)


def _trouble(what: str, said: str, error: Exception) -> DeliveryError:
    if isinstance(error, urllib3.exceptions.SSLError | ssl.SSLError) and not isinstance(error, ssl.SSLEOFError):
        return LaterError(f"{what}: the server's certificate or TLS was refused ({said})")
    return DeliveryError(f"{what}: no answer ({said})", retry=True)
