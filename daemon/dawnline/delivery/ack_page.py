"""What a link in a message leads to: a page that shows and asks, and a button that does it.

Opening the link changes nothing, so that a mail scanner or a preview acknowledges no alarm; the button's POST does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Final, TypeAlias

from dawnline.delivery.ack_link import PATH, Claim, check
from dawnline.errors import InputError

Put: TypeAlias = Callable[[int, str], tuple[bool, str] | None]
"""Acknowledges one alarm for a person; gives the verdict, or None where the service has not answered in time."""

_HEADERS: Final[Mapping[str, str]] = {
    "Content-Type": "text/html; charset=utf-8",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",  # the link is a key of its own
    "X-Robots-Tag": "noindex, nofollow",
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer by HTTP."""

    status: int
    body: str
    headers: Mapping[str, str]


def answer(method: str, token: str, key: bytes, *, pond: str, at: int, put: Put) -> Answer:
    """Answer a request for `PATH` with this token at `at` [ms].

    GET and HEAD show what would be done, POST does it; the token comes in the query of the one and in the form of the
    other. Whatever is wrong with a token is answered alike, with 403.
    """
    if method not in ("GET", "HEAD", "POST"):
        return _page(405, "Not here", "<p>Open the link from the message.</p>", {"Allow": "GET, HEAD, POST"})
    try:
        claim = check(token, key, pond, at)
    except InputError as error:
        return _page(403, "No", f"<p>{escape(str(error)).capitalize()}.</p>")
    return _done(claim, put) if method == "POST" else _asked(claim, token)


def _asked(claim: Claim, token: str) -> Answer:
    numbers = ", ".join(str(episode) for episode in claim.episodes)
    return _page(
        200,
        claim.pond,
        f"<p>{escape(claim.person)}, do you have it? Alarm {numbers}. Once you say so nobody is reminded or asked any "
        "more; the alarm itself stays until the pond is well.</p>"
        f'<form method="post" action="{PATH}"><input type="hidden" name="t" value="{escape(token)}">'
        "<button>I have it</button></form>",
    )


def _done(claim: Claim, put: Put) -> Answer:
    rows, well = [], True
    for episode in claim.episodes:
        verdict = put(episode, claim.person)
        accepted, text = verdict or (False, "the watch has not answered; it takes this as soon as it can")
        well = well and accepted
        rows.append(f"<li>Alarm {episode}: {escape(text)}</li>")
    return _page(200 if well else 409, claim.pond, f"<ul>{''.join(rows)}</ul>")


def _page(status: int, title: str, content: str, more: Mapping[str, str] | None = None) -> Answer:
    body = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<title>{escape(title)}</title><link rel="stylesheet" href="/style.css"></head>'
        f"<body><main><h1>{escape(title)}</h1>{content}</main></body></html>"
    )
    return Answer(status, body, {**_HEADERS, **(more or {})})
