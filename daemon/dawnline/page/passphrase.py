"""Passphrases are kept as scrypt hashes (RFC 7914); the parameters stand in front of each."""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
from binascii import Error
from typing import Final

from dawnline.errors import InputError

SHORTEST: Final = 10  # characters: long enough against guessing at the rate that `attempts` allows
_N, _R, _P = 1 << 14, 8, 1  # 16 MB and a tenth of a second or two on a board: RFC 7914, section 2, recommends r = 8


def hashed(passphrase: str, salt: bytes | None = None) -> str:
    """The line to keep in the secret's file. Raises InputError for a passphrase that is too short."""
    if len(passphrase) < SHORTEST:
        expected = f"expected {SHORTEST} or more: four words are easy to keep"
        raise InputError(f"found {len(passphrase)} characters, {expected}")
    salt = os.urandom(16) if salt is None else salt
    found = _scrypt(passphrase, salt, _N, _R, _P)
    return "$".join(["scrypt", str(_N), str(_R), str(_P), _text(salt), _text(found)])


def is_hash(kept: str) -> bool:
    """Whether this is a line that `hashed` made."""
    return _parts(kept) is not None


def matches(passphrase: str, kept: str) -> bool:
    """Whether this passphrase was hashed to `kept`; takes as long for a wrong one. False where `kept` is no hash."""
    parts = _parts(kept)
    if parts is None:
        return False
    n, r, p, salt, found = parts
    return hmac.compare_digest(_scrypt(passphrase, salt, n, r, p), found)


def _parts(kept: str) -> tuple[int, int, int, bytes, bytes] | None:
    try:
        kind, n, r, p, salt, found = kept.strip().split("$")
        numbers = int(n), int(r), int(p)
        raw = base64.b64decode(salt, validate=True), base64.b64decode(found, validate=True)
    except (ValueError, Error):
        return None
    power_of_two = 2 <= numbers[0] <= 1 << 17 and numbers[0].bit_count() == 1
    sound = kind == "scrypt" and power_of_two and numbers[1:] == (_R, _P) and len(raw[1]) == 32
    return (*numbers, *raw) if sound else None


def _scrypt(passphrase: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(passphrase.encode(), salt=salt, n=n, r=r, p=p, maxmem=256 * n * r, dklen=32)


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode("ascii")
