"""The link in a message, answered for the pond that it is about."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.responses import Response

from dawnline.delivery.ack_link import fits, link_key
from dawnline.delivery.ack_page import answer
from dawnline.errors import DawnlineError
from dawnline.page.ask import Page
from dawnline.page.pond import Pond
from dawnline.page.view import Answer


def by_link(ponds: Sequence[Pond], method: str, token: str) -> Answer:
    """The answer of the pond whose link it is; where it is none's, a refusal. All of them have a key."""
    refused: Answer | None = None
    for pond in ponds:
        try:
            found = _answered(pond, method, token)
        except DawnlineError as error:
            refused = Page("trouble.html", {"said": str(error)}, 503)
            continue
        if found.status_code != 403 or fits(token, _key(pond), pond.name):
            return found
        refused = refused or found
    assert refused is not None
    return refused


def _answered(pond: Pond, method: str, token: str) -> Response:
    def put(episode: int, person: str) -> tuple[bool, str] | None:
        return pond.doors.put("acknowledge", {"id": episode}, f"{person} (link)")

    found = answer(method, token, _key(pond), pond=pond.name, at=pond.doors.now(), put=put)
    return Response(found.body, found.status, dict(found.headers))


def _key(pond: Pond) -> bytes:
    secret = pond.doors.settings.page.link_key
    return link_key(secret) if secret is not None else b""
