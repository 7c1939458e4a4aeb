"""Letters to every other kind of address, through the Apprise library, loaded with the first of them."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Any

from dawnline.errors import DeliveryError
from dawnline.letter import Letter

if TYPE_CHECKING:
    from dawnline.event import Priority

STEP_S = 10.0  # connect, and each wait for an answer; the lane bounds the whole
_KINDS: dict[Priority, str] = {"low": "info", "medium": "warning", "high": "failure"}


def send_push(letter: Letter, url: str) -> str:
    """Send `letter` to `url`, any address Apprise knows.

    Apprise says only yes or no: no is DeliveryError with retry. Without retry where it knows no such service
    or the address lacks something.
    """
    service = _service(url)
    if service is None:
        raise DeliveryError(f"push: {unknown(url)}", retry=False)
    from apprise import Apprise

    sender = Apprise(asset=service.asset)
    sender.add(service)
    kind = _KINDS[letter.priority]
    if not sender.notify(title=letter.subject_to_send, body=letter.text_to_send, notify_type=kind, body_format="text"):
        raise DeliveryError(f"push: the service {_scheme(url)} did not take it", retry=True)
    return f"push: taken by {_scheme(url)}"


def check_push(url: str) -> None:
    """Raise ValueError where Apprise cannot use `url`. Loads the library: for `check`, not for a start."""
    if _service(url) is None:
        raise ValueError(unknown(url))


def unknown(url: str) -> str:
    """Why an address was refused, without quoting it: it may hold a token."""
    return f'no notification service answers to this "{_scheme(url)}://" address, or a part of it is missing'


def _scheme(url: str) -> str:
    return url.partition(":")[0].lower()


def _service(url: str) -> Any:
    # Apprise logs each refusal in prose, with parts of the address: the outcome alone is ours to report.
    logging.getLogger("apprise").disabled = True
    from apprise import Apprise, AppriseAsset

    asset = AppriseAsset(app_id="dawnline", app_desc="dawnline", async_mode=False)
    service = Apprise.instantiate(url, asset=asset, suppress_exceptions=True)
    if service is not None:
        service.socket_connect_timeout = service.socket_read_timeout = STEP_S
    return service
