from __future__ import annotations

import base64
import socket
import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dawnline.delivery import web
from dawnline.delivery.later import LaterError
from dawnline.delivery.webhook import send_webhook
from dawnline.errors import DeliveryError
from dawnline.letter import Letter

from ..web import Handler


def failure(letter: Letter, url: str) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        send_webhook(letter, url)
    return caught.value


def test_the_letter_arrives_as_json(receiver: Any, letter: Letter) -> None:
    assert send_webhook(letter, receiver.url + "/hook?room=1") == "web hook: 200"
    ((path, headers, body),) = receiver.got
    assert path == "/hook?room=1"
    assert headers["Idempotency-Key"] == letter.key
    assert headers["Content-Type"] == "application/json"
    assert body == {
        "version": 1,
        "key": letter.key,
        "episode": 7,
        "priority": "high",
        "subject": letter.subject,
        "text": letter.text,
        "repeat": False,
        "person": "Ada",
        "thread": "",
    }


def test_a_repeat_is_marked_and_has_the_same_key(receiver: Any, letter: Letter) -> None:
    send_webhook(replace(letter, attempts=2), receiver.url)
    _, headers, body = receiver.got[0]
    assert (headers["Idempotency-Key"], body["repeat"]) == (letter.key, True)


def test_a_name_in_any_script_passes_the_header(receiver: Any, letter: Letter) -> None:
    send_webhook(replace(letter, key="k/Zoë\r\nX-Evil: 1/\ud800", person="Zoë\ud800"), receiver.url)
    _, headers, body = receiver.got[0]
    assert headers["Idempotency-Key"] == "k/Zo%C3%AB%0D%0AX-Evil: 1/?"
    assert body["person"] == "Zoë\ud800"


def test_a_login_in_the_address_is_basic_authentication(receiver: Any, letter: Letter) -> None:
    send_webhook(letter, receiver.url.replace("http://", "http://ada:s%40me@"))
    assert receiver.got[0][1]["Authorization"] == "Basic " + base64.b64encode(b"ada:s@me").decode()


@pytest.mark.parametrize("status", [200, 201, 202, 204])
def test_2xx_is_delivery(status: int, receiver: Any, letter: Letter, answer_with: Callable[..., Any]) -> None:
    receiver.answer = answer_with(status)
    assert send_webhook(letter, receiver.url) == f"web hook: {status}"


@pytest.mark.parametrize("status", [408, 425, 429, 500, 502, 503, 504, 599])
def test_these_are_tried_again(status: int, receiver: Any, letter: Letter, answer_with: Callable[..., Any]) -> None:
    receiver.answer = answer_with(status, b"not now")
    error = failure(letter, receiver.url)
    assert (error.retry, str(error)) == (True, f"web hook: {status} not now")


@pytest.mark.parametrize("status", [400, 401, 403, 404, 410, 413, 422])
def test_these_are_dead(status: int, receiver: Any, letter: Letter, answer_with: Callable[..., Any]) -> None:
    receiver.answer = answer_with(status, b"never")
    error = failure(letter, receiver.url)
    assert (error.retry, str(error)) == (False, f"web hook: {status} never")


@pytest.mark.parametrize("cut", [0, 183])  # whole, and where a half of it would be shown
def test_a_server_that_repeats_the_address_is_not_repeated(
    cut: int, receiver: Any, letter: Letter, answer_with: Callable[..., Any]
) -> None:
    key = "K3x9-vQw72-long"
    login = base64.b64encode(b"bo:Sesame").decode()
    said = f"{'.' * cut}Cannot POST /hooks/{key}?to={key} with Basic {login}, nor {key} for bo:Sesame"
    receiver.answer = answer_with(404, said.encode())
    url = receiver.url.replace("//", "//bo:Sesame@") + f"/hooks/{key}?to={key}"
    text = str(failure(letter, url))
    assert text.startswith("web hook: 404 ")
    for secret in (key, key[:8], login, "Sesame"):
        assert secret not in text


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_a_redirect_is_dead_and_not_followed(
    status: int, receiver: Any, letter: Letter, answer_with: Callable[..., Any]
) -> None:
    receiver.answer = answer_with(status, Location="/elsewhere")
    error = failure(letter, receiver.url + "/hook")
    assert not error.retry
    assert "redirect" in str(error)
    assert [path for path, _, _ in receiver.got] == ["/hook"]


@pytest.mark.parametrize(
    ("headers", "wait_s"),
    [
        ({"Retry_After": "120"}, 120.0),
        (
            {"Retry_After": "Wed, 03 Jun 2099 04:30:30 GMT"},
            None,
        ),  # checked below: measured from the Date header
    ],
)
def test_retry_after_is_read(
    headers: dict[str, str],
    wait_s: float | None,
    receiver: Any,
    letter: Letter,
    answer_with: Callable[..., Any],
) -> None:
    receiver.answer = answer_with(429, **headers)
    error = failure(letter, receiver.url)
    assert isinstance(error, LaterError)
    assert error.wait_s == wait_s if wait_s is not None else error.wait_s > 1e8


@pytest.mark.parametrize("after", ["soon", "-5", "", "Wed, 99 Jun 2026 04:30:30 GMT", "\u00b2"])
def test_a_senseless_retry_after_is_an_ordinary_retry(
    after: str, receiver: Any, letter: Letter, answer_with: Callable[..., Any]
) -> None:
    receiver.answer = answer_with(503, Retry_After=after)
    error = failure(letter, receiver.url)
    assert error.retry
    assert not isinstance(error, LaterError)


def test_a_dead_port_is_tried_again(letter: Letter) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    error = failure(letter, f"http://127.0.0.1:{port}/")
    assert error.retry
    assert "no answer" in str(error)


def test_a_hanging_server_is_tried_again(receiver: Any, letter: Letter, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(web, "STEP_S", 0.2)
    done = threading.Event()
    receiver.answer = lambda _: done.wait(20)
    error = failure(letter, receiver.url)
    done.set()
    assert error.retry
    assert "no answer" in str(error)


def test_a_connection_cut_before_the_answer_is_tried_again(receiver: Any, letter: Letter) -> None:
    receiver.answer = lambda request: request.connection.shutdown(socket.SHUT_RDWR)
    assert failure(letter, receiver.url).retry


def test_a_connection_cut_in_the_headers_is_tried_again(receiver: Any, letter: Letter) -> None:
    def half(request: Handler) -> None:
        request.wfile.write(b"HTT")
        request.connection.shutdown(socket.SHUT_RDWR)

    receiver.answer = half
    assert failure(letter, receiver.url).retry


def test_a_refusal_cut_in_its_body_is_tried_again(receiver: Any, letter: Letter) -> None:
    def half(request: Handler) -> None:
        request.wfile.write(b"HTTP/1.1 503 Busy\r\nContent-Length: 1000\r\n\r\nab")
        request.connection.shutdown(socket.SHUT_RDWR)

    receiver.answer = half
    assert failure(letter, receiver.url).retry


def test_garbage_is_tried_again(receiver: Any, letter: Letter) -> None:
    receiver.answer = lambda request: request.wfile.write(b"\x00\xff not http at all\r\n\r\n")
    assert failure(letter, receiver.url).retry


def test_of_an_endless_answer_only_the_beginning_is_read(receiver: Any, letter: Letter) -> None:
    written = 0
    cut = threading.Event()

    def endless(request: Handler) -> None:
        nonlocal written
        request.wfile.write(b"HTTP/1.1 400 No\r\nContent-Length: 99999999999\r\n\r\n")
        try:
            while True:
                written += request.connection.send(b"x" * 65536)
        except OSError:
            cut.set()

    receiver.answer = endless
    error = failure(letter, receiver.url)
    assert cut.wait(10)
    assert len(str(error)) < 300
    assert written < 64 * 2**20  # what the sockets' buffers swallow, no more


def test_plain_http_on_a_tls_address_is_tried_again_slowly(receiver: Any, letter: Letter) -> None:
    error = failure(letter, receiver.url.replace("http://", "https://"))
    assert isinstance(error, LaterError)
    assert "certificate or TLS" in str(error)
