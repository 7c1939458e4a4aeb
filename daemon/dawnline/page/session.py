"""Who is signed in: a cookie that says so, sealed with a key that only this machine has.

The cookie says which passphrases were given, and each pond knows its own. Nothing is kept in memory, so a restart signs
nobody out; another passphrase signs out whoever had the old one, another key everybody.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from dawnline.errors import SettingsError

Role: TypeAlias = Literal["keeper", "guest"]

COOKIE: Final = "dawnline"
LASTS_S: Final = 30 * 86_400
_KEY_BYTES: Final = 32
_LONGEST: Final = 1200  # characters of a cookie
MOST_GIVEN: Final = 20


@dataclass(frozen=True, slots=True)
class Session:
    """One browser: marks of the passphrases it has given, the name to put beside its acts, and the sealed cookie."""

    given: tuple[str, ...]
    name: str
    cookie: str


@dataclass(frozen=True, slots=True)
class Who:
    """One browser at one pond: what it may do there, the name to put beside its acts, and the sealed cookie."""

    role: Role
    name: str
    cookie: str

    @property
    def acts(self) -> bool:
        """Whether it may change anything."""
        return self.role == "keeper"


def mark(kept: str) -> str:
    """What a cookie says of a passphrase that was given: a digest of its hash, which changes with it."""
    return hashlib.blake2b(kept.strip().encode(), digest_size=6).hexdigest()


class Seal:
    """Makes and reads cookies and the tokens of forms."""

    def __init__(self, key: bytes) -> None:
        self._key = hmac.digest(key, b"session", hashlib.sha256)

    def begin(self, given: Sequence[str], name: str, now_s: float) -> Session:
        """A new session; each has a number of its own, so that an old cookie is never taken up.

        Of more passphrases than a cookie holds the oldest are forgotten.
        """
        kept = tuple(given[-MOST_GIVEN:])
        said = {"given": kept, "name": name[:60], "until": int(now_s + LASTS_S), "id": os.urandom(12).hex()}
        body = _text(json.dumps(said, separators=(",", ":")).encode())
        return Session(kept, name[:60], f"{body}.{self._mac('cookie', body)}")

    def read(self, cookie: str, now_s: float) -> Session | None:
        """Whose cookie this is; None for one that is not ours, was altered, or is too old."""
        body, _, mac = cookie.partition(".")
        if len(cookie) > _LONGEST or not hmac.compare_digest(mac.encode(), self._mac("cookie", body).encode()):
            return None
        said: dict[str, Any] = json.loads(base64.urlsafe_b64decode(body))
        return Session(tuple(said["given"]), said["name"], cookie) if now_s < said["until"] else None

    def form_token(self, cookie: str) -> str:
        """What each form of this session carries, so that no other site can post in its name."""
        return self._mac("form", cookie)

    def is_form_token(self, cookie: str, token: str) -> bool:
        """Whether a form came from a page of this session."""
        return hmac.compare_digest(token.encode(), self.form_token(cookie).encode())

    def _mac(self, what: str, text: str) -> str:
        return _text(hmac.digest(self._key, f"{what}\0{text}".encode(), hashlib.sha256))


def key_of(store: Path) -> bytes:
    """The key beside a store, made where there is none; nobody else may read it. Raises SettingsError."""
    file = store.with_name(store.name + ".page-key")
    try:
        with suppress(FileExistsError):
            handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as made:
                made.write(os.urandom(_KEY_BYTES))
        key = file.read_bytes()
    except OSError as error:
        raise SettingsError(
            f"{file}: the page keeps its key there, and cannot ({error.strerror}): run it as the service's user"
        ) from None
    if len(key) != _KEY_BYTES:
        raise SettingsError(f"{file}: found {len(key)} bytes, expected {_KEY_BYTES}: remove it, a new one is made")
    return key


def _text(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).decode("ascii")
