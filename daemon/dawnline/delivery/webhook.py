"""Letters to a web hook: one POST of a small JSON object, judged by the status of the answer."""

from __future__ import annotations

import json
from urllib.parse import quote

import urllib3

from dawnline.delivery.later import LaterError, retry_after_s
from dawnline.delivery.web import FAILURES, connect, hidden, login, path_of, trouble
from dawnline.errors import DeliveryError
from dawnline.letter import Letter
from dawnline.secret import veiled

_ANSWER = 200  # characters of a refusal, for the text
_READ_BYTES = 2000  # of it, at most: more than is shown, so that no half of a secret is
_LATER = frozenset({408, 425, 429})  # RFC 9110 15.5.9, RFC 8470 5.2, RFC 6585 4


def send_webhook(letter: Letter, url: str) -> str:
    """POST `letter` to `url`; 2xx is delivery. Redirects are not followed: a letter may hold what is private.

    The body is {"version":1,"key","episode","priority","subject","text","repeat","person","thread"}; the header
    Idempotency-Key carries the letter's key, percent-encoded where it is not plain ASCII. Raises
    DeliveryError: with retry for 408, 425, 429, 5xx and trouble with the connection, without for every other
    answer.
    """
    connection = connect(url)
    try:
        # Not preloaded: an answer may be of any length, and is not worth reading whole.
        connection.request(
            "POST", path_of(url), body=_body(letter), headers=_headers(letter, url), preload_content=False
        )
        with connection.getresponse() as response:
            return _judge(response, url)
    except FAILURES as error:
        raise trouble("web hook", error, url) from None
    finally:
        connection.close()


def _body(letter: Letter) -> bytes:
    body = {
        "version": 1,
        "key": letter.key,
        "episode": letter.episode,
        "priority": letter.priority,
        "subject": letter.subject_to_send,
        "text": letter.text_to_send,
        "repeat": letter.is_repeat,
        "person": letter.person,
        "thread": letter.thread,
    }
    return json.dumps(body).encode("ascii")


def _headers(letter: Letter, url: str) -> dict[str, str]:
    headers = {
        "Content-Type": "application/json",
        "User-Agent": "dawnline",
        "Connection": "close",
        "Idempotency-Key": quote(letter.key.encode("utf-8", "replace"), safe="/:@!$&'()*+,;=?#[] ~-._"),
    }
    return headers | login(url)


def _judge(response: urllib3.HTTPResponse, url: str) -> str:
    status = response.status
    if 200 <= status < 300:
        return f"web hook: {status}"
    if 300 <= status < 400:
        raise DeliveryError(f"web hook: {status}, a redirect; write the final address instead", retry=False)
    said = response.read(_READ_BYTES, decode_content=False).decode("utf-8", "replace").strip()
    text = f"web hook: {status} {veiled(said, *hidden(url))[:_ANSWER]}".strip()
    if status >= 500 or status in _LATER:
        wait_s = retry_after_s(response.headers.get("Retry-After"), response.headers.get("Date"))
        raise DeliveryError(text, retry=True) if wait_s is None else LaterError(text, wait_s=wait_s)
    raise DeliveryError(text, retry=False)
