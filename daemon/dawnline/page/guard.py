"""What stands before every request: limits of size, time and host, and the headers that keep others out."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from email.utils import formatdate
from typing import Any, Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY: Final = 64 * 1024
LONGEST_URL: Final = 2048
BODY_S: Final = 10.0

# Nothing from outside, no script or style within a page, no frame around it (Content Security Policy Level 3).
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # with none at all a browser sends its own forms with the origin "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


class TooLarge(Exception):  # noqa: N818 - an answer more than a fault
    """More was sent than any form of ours holds."""


class Guard:
    """Wraps the application. `hosts`, where given, are the only names by which it answers: a page that is open to this
    machine alone must not be reached through a name that somebody else points here.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] | None) -> None:
        self.app = app
        self.hosts = None if hosts is None else frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
                headers["Date"] = formatdate(usegmt=True)  # RFC 9110, 6.6.1
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, with_headers)
            return
        await self.app(scope, _limited(receive), with_headers)

    def _refusal(self, scope: Scope) -> Any:
        headers = Headers(scope=scope)
        if self.hosts is not None and _name(headers.get("host", "")) not in self.hosts:
            return PlainTextResponse("This page answers to this machine alone.\n", 421)
        if len(scope.get("raw_path", b"")) + len(scope.get("query_string", b"")) > LONGEST_URL:
            return PlainTextResponse("That address is too long.\n", 414)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > LARGEST_BODY:
            return PlainTextResponse("That is more than any form here holds.\n", 413)
        return None


def _name(host: str) -> str:
    """The host without its port."""
    if host.startswith("["):
        return host.partition("]")[0].lstrip("[")
    return host.rpartition(":")[0] if ":" in host else host


def _limited(receive: Receive) -> Receive:
    """The body in time and within its limit."""
    seen = 0
    loop = asyncio.get_running_loop()
    until = loop.time() + BODY_S

    async def inner() -> Message:
        nonlocal seen
        message = await asyncio.wait_for(receive(), max(0.01, until - loop.time()))
        seen += len(message.get("body", b""))
        if seen > LARGEST_BODY:
            raise TooLarge
        return message

    return inner
