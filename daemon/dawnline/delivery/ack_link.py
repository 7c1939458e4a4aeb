"""The link in a message by which an alarm is acknowledged: signed, for a day, for this one purpose.

The token is the claim as JSON and its HMAC-SHA256 (RFC 2104), both in the URL-safe alphabet without padding (RFC 4648,
5). The signed text begins with the purpose, so that no signature made with the same key for anything else fits.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
from dataclasses import dataclass
from typing import Final

from dawnline.duration import DAY_MS
from dawnline.errors import InputError, SettingsError
from dawnline.letter import Letter
from dawnline.secret import Secret

PATH: Final = "/acknowledge"
LASTS_MS: Final = DAY_MS
LEAST_KEY: Final = 16  # bytes
LONGEST: Final = 2048  # characters of a token
MOST: Final = 32  # alarms in one link
_PURPOSE: Final = b"dawnline: acknowledge these alarms\n"
_NOT_VALID: Final = "this link is not valid"


@dataclass(frozen=True, slots=True)
class Claim:
    """Who may acknowledge which alarms of which pond, until when [ms]."""

    pond: str
    episodes: tuple[int, ...]
    person: str
    until: int


def sign(claim: Claim, key: bytes) -> str:
    """The token of a claim."""
    body = json.dumps([claim.pond, list(claim.episodes), claim.person, claim.until], separators=(",", ":")).encode()
    return f"{_encoded(body)}.{_encoded(_signature(body, key))}"


def check(token: str, key: bytes, pond: str, at: int) -> Claim:
    """The claim of a token, presented at `at` [ms] to this pond. Raises InputError where it is not to be trusted.

    The signature is compared in constant time, before anything in the token is looked at.
    """
    if len(token) > LONGEST or token.count(".") != 1:
        raise InputError(_NOT_VALID)
    try:
        body, signature = (_decoded(part) for part in token.split("."))
    except ValueError:
        raise InputError(_NOT_VALID) from None
    if not hmac.compare_digest(signature, _signature(body, key)):
        raise InputError(_NOT_VALID)
    claim = _read(body)
    if claim.pond != pond:
        raise InputError(_NOT_VALID)
    if at >= claim.until:
        raise InputError("this link has expired; `dawnline alarms list` shows what stands, and so does the page")
    return claim


def fits(token: str, key: bytes, pond: str) -> bool:
    """Whether a token is about this pond and of this key, be it too old or not."""
    try:
        check(token, key, pond, -1)
    except InputError:
        return False
    return True


def link_key(secret: Secret) -> bytes:
    """The key behind `[page] link_key`. Raises SettingsError where it is missing or too short."""
    key = secret.reveal().encode()
    if len(key) < LEAST_KEY:
        raise SettingsError(
            f"[page] link_key: found {len(key)} bytes in {secret.reference}, expected {LEAST_KEY} or more"
        )
    return key


@dataclass(frozen=True, slots=True)
class Links:
    """Writes links into letters. `address` is what people type, `secret` names the key, `says` stands above a link."""

    address: str
    secret: Secret
    pond: str
    says: str

    def to_answer(self, letter: Letter) -> str:
        """The lines to add to a letter, "" where it asks for nothing. Raises SettingsError where there is no key."""
        if not letter.asks:
            return ""
        claim = Claim(self.pond, letter.asks[:MOST], letter.person, letter.at + LASTS_MS)
        return f"{self.says}\n{self.address}{PATH}?t={sign(claim, link_key(self.secret))}"


def _read(body: bytes) -> Claim:
    pond, episodes, person, until = json.loads(body)  # signed by us: it has this shape
    return Claim(pond, tuple(episodes), person, until)


def _signature(body: bytes, key: bytes) -> bytes:
    return hmac.new(key, _PURPOSE + body, hashlib.sha256).digest()


def _encoded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")


def _decoded(text: str) -> bytes:
    """Raises ValueError for what is no such text, and for a second spelling of the same bytes."""
    try:
        data = base64.b64decode(text.encode("ascii") + b"=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        raise ValueError(str(error)) from None
    if _encoded(data) != text:
        raise ValueError("not in its shortest form")
    return data
