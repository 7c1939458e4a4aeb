"""An address string and the channel it belongs to; a secret in it is looked up only when a letter is sent."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, TypeAlias
from urllib.parse import SplitResult, urlsplit

from dawnline.errors import SettingsError
from dawnline.secret import Secret

Channel: TypeAlias = Literal["console", "mail", "webhook", "push"]

_FORMS = (
    '"console:", "mailto:ada@example.org", "https://...", another URL, or "env:NAME" / "file:PATH" holding one of these'
)
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*")
# A dot-atom at a host name (RFC 5322, 3.4.1); no quoted local part, no comment, no list of several.
_MAILBOX = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?")


@dataclass(frozen=True, slots=True)
class Address:
    """Where one letter goes. `target` may hold a token and is kept out of every repr."""

    channel: Channel
    target: str = field(repr=False)


def is_reference(text: str) -> bool:
    """Whether `text` names a secret instead of being an address."""
    return text.startswith(("env:", "file:"))


def check_address(text: str) -> None:
    """Raise ValueError, with what is expected, where `text` can be no address; a secret is not looked up."""
    if not is_reference(text):
        parse_address(text)
    elif not text.partition(":")[2]:
        raise ValueError('expected a name after "env:" or a path after "file:"')


def parse_address(text: str) -> Address:
    """The address written in `text`. Raises ValueError, without quoting it: it may hold a token."""
    if not text.isprintable() or " " in text:
        raise ValueError("an address holds no spaces or control characters")
    scheme, colon, rest = text.partition(":")
    if not colon or not _SCHEME.fullmatch(scheme):
        raise ValueError(f"expected {_FORMS}")
    match scheme.lower():
        case "console":
            return _console(rest)
        case "mailto":
            return _mailbox(rest)
        case "http" | "https":
            return _webhook(text)
    if not rest.startswith("//") or len(rest) == 2:
        raise ValueError(f'an address that begins with "{scheme}:" is a URL, "{scheme}://..."; expected {_FORMS}')
    return Address("push", text)


def web_parts(url: str) -> SplitResult | None:
    """The parts of a web address; None for what is none, or has no host or no possible port."""
    try:
        parts = urlsplit(url)
        fits = parts.scheme in ("http", "https") and parts.hostname and (parts.port is None or parts.port > 0)
    except ValueError:
        return None
    return parts if fits else None


def resolve_address(text: str, folder: Path) -> Address:
    """The address of a letter, a secret followed. Raises SettingsError where it is missing or no address."""
    found = Secret(text, folder).reveal().strip() if is_reference(text) else text
    try:
        return parse_address(found)
    except ValueError as error:
        place = f"the address in {text}" if is_reference(text) else "an address"
        raise SettingsError(f"{place} cannot be used: {error}") from None


def _console(rest: str) -> Address:
    if rest:
        raise ValueError('expected "console:" with nothing after it')
    return Address("console", "")


def _mailbox(rest: str) -> Address:
    if not _MAILBOX.fullmatch(rest):
        raise ValueError('expected one plain mailbox, "mailto:ada@example.org" (a host name in its ASCII form)')
    return Address("mail", rest)


def _webhook(text: str) -> Address:
    try:
        parts = urlsplit(text)
        host, port = parts.hostname, parts.port  # `port` raises for one out of range
    except ValueError as error:
        raise ValueError(f"not a usable web address ({error})") from None
    if not host or port == 0:
        raise ValueError("a web address needs a host and a port from 1 to 65535: https://host/path")
    return Address("webhook", text)
