from __future__ import annotations

import logging
import os
import socket
from collections.abc import Callable
from typing import Any

import pytest

# apprise 2 imports `imghdr` for one of its services; it is deprecated in 3.11 and 3.12 and absent from 3.13.
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")

from dawnline.delivery import push  # noqa: E402
from dawnline.delivery.push import check_push, send_push  # noqa: E402
from dawnline.errors import DeliveryError  # noqa: E402
from dawnline.letter import Letter  # noqa: E402


def failure(letter: Letter, url: str) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        send_push(letter, url)
    return caught.value


@pytest.fixture
def hook(receiver: Any) -> str:
    return str(receiver.url).replace("http://", "json://") + "/room"


def test_a_letter_arrives(receiver: Any, hook: str, letter: Letter) -> None:
    assert send_push(letter, hook) == "push: taken by json"
    ((path, _, body),) = receiver.got
    assert path.startswith("/room")
    assert (body["title"], body["message"], body["type"]) == (letter.subject, letter.text, "failure")


@pytest.mark.parametrize("status", [400, 404, 500])
def test_whatever_refuses_it_is_tried_again(
    status: int, receiver: Any, hook: str, letter: Letter, answer_with: Callable[..., Any]
) -> None:
    receiver.answer = answer_with(status)
    error = failure(letter, hook)
    assert (error.retry, str(error)) == (True, "push: the service json did not take it")


def test_a_cut_connection_is_tried_again(receiver: Any, hook: str, letter: Letter) -> None:
    receiver.answer = lambda request: request.connection.shutdown(socket.SHUT_RDWR)
    assert failure(letter, hook).retry


def test_a_hanging_service_is_tried_again(
    receiver: Any, hook: str, letter: Letter, monkeypatch: pytest.MonkeyPatch
) -> None:
    import threading

    monkeypatch.setattr(push, "STEP_S", 0.2)
    done = threading.Event()
    receiver.answer = lambda _: done.wait(20)
    error = failure(letter, hook)
    done.set()
    assert error.retry


@pytest.mark.parametrize("url", ["nosuchservice://token_hidden/room", "tgram://"])
def test_an_address_nobody_knows_is_dead_and_not_quoted(url: str, letter: Letter) -> None:
    error = failure(letter, url)
    assert not error.retry
    assert url.partition(":")[0] in str(error)
    assert "hidden" not in str(error)
    with pytest.raises(ValueError, match="no notification service"):
        check_push(url)


def test_the_library_logs_nothing(receiver: Any, hook: str, letter: Letter, caplog: Any, capfd: Any) -> None:
    receiver.answer = lambda request: request.connection.shutdown(socket.SHUT_RDWR)
    with caplog.at_level(logging.DEBUG):
        failure(letter, hook)
    assert not [record for record in caplog.records if record.name.startswith("apprise")]
    assert capfd.readouterr() == ("", "")


def test_the_library_waits_no_longer_than_we_say() -> None:
    service = push._service("json://localhost/room")
    assert (service.socket_connect_timeout, service.socket_read_timeout) == (push.STEP_S, push.STEP_S)


def test_a_known_address_passes_the_check() -> None:
    check_push("json://localhost/room")


def test_nothing_is_written_to_disk(hook: str, letter: Letter, tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    send_push(letter, hook)
    assert os.listdir(tmp_path) == []  # noqa: PTH208
