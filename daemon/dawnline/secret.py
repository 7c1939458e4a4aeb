"""Secrets are named in the configuration, never written there: "env:NAME" or "file:PATH"."""

from __future__ import annotations

import base64
import ctypes
import os
import resource
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final
from urllib.parse import quote

from pydantic import BeforeValidator, ValidationInfo

from dawnline.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Secret:
    """Where a secret is found; its text appears only where `reveal` is called, never in a repr or a log."""

    reference: str
    folder: Path

    def reveal(self) -> str:
        """The secret itself, without a trailing newline. Raises SettingsError where it is not to be had."""
        how, _, where = self.reference.partition(":")
        if how == "env":
            if where not in os.environ:
                raise SettingsError(f"secret {self.reference}: the environment has no variable {where}; set it")
            return os.environ[where]
        path = self.folder / where
        try:
            return path.read_text(encoding="utf-8").rstrip("\r\n")
        except OSError as error:
            raise SettingsError(f"secret {self.reference}: cannot read {path} ({error.strerror})") from None
        except UnicodeDecodeError:
            raise SettingsError(f"secret {self.reference}: cannot read {path} (it is no text)") from None


def veiled(text: str, *secrets: str) -> str:
    """`text` with these secrets struck out, also as they are written in an address or in Base64: a server may repeat
    in its answer all that it was told, and the answer is logged and kept.

    >>> veiled("401 who is Basic cG9uZDp0ZWxs? try tell%20me", "pond:tell", "tell me")
    '401 who is Basic (secret)? try (secret)'
    """
    spelt = {
        each
        for secret in secrets
        if secret
        for each in (secret, quote(secret, safe=""), quote(secret), _base64(secret))
    }
    for each in sorted(spelt, key=len, reverse=True):
        text = text.replace(each, "(secret)")
    return text


def _base64(text: str) -> str:
    return base64.b64encode(text.encode("utf-8", "replace")).decode("ascii").rstrip("=")


_PR_SET_DUMPABLE: Final = 4  # prctl(2), Linux


def keep_out_of_cores() -> None:
    """No crash of this process leaves an image of its memory behind, in which its secrets would stand.

    The limit alone does not hold where cores are handed to a program (core(5)); what may not be dumped keeps its
    environment from other processes of its user, too (proc(5)).
    """
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with suppress(OSError, AttributeError):  # another system
        ctypes.CDLL(None).prctl(_PR_SET_DUMPABLE, 0, 0, 0, 0)


def _parse(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Secret):
        return value
    if not isinstance(value, str) or not value.startswith(("env:", "file:")) or value.endswith(":"):
        raise ValueError('expected "env:NAME" or "file:PATH": a secret is never written into the configuration')
    return Secret(value, (info.context or {}).get("folder", Path()))


SecretField = Annotated[Secret, BeforeValidator(_parse)]
"""A settings field that names a secret."""
