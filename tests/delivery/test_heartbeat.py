"""The heartbeat: beats while somebody vouches for the watch, and not a moment longer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from dawnline.delivery import heartbeat as module
from dawnline.delivery.heartbeat import Heartbeat, ping
from dawnline.delivery.settings import HeartbeatSettings
from dawnline.errors import DeliveryError

Eventually = Callable[..., None]


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Callable[..., Heartbeat]]:
    """make(url, send=..., every_s=...) -> a heartbeat that is stopped after the test."""
    made: list[Heartbeat] = []

    def build(url: str, every_s: float = 0.01, **options: Any) -> Heartbeat:
        made.append(Heartbeat(HeartbeatSettings(url=url), tmp_path, every_s, **options))
        made[-1].start()
        return made[-1]

    yield build
    for each in made:
        each.stop()


def test_it_waits_for_the_first_sign_of_life_and_counts(make: Any, eventually: Eventually) -> None:
    got: list[str] = []
    beat = make("https://example.org/token", send=got.append)
    assert got == []
    beat.alive()
    eventually(lambda: beat.sent >= 3)
    assert set(got) == {"https://example.org/token"}
    assert beat.as_json()["failing"] == ""


def test_without_a_sign_of_life_nothing_goes_out(
    make: Any, eventually: Eventually, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "FRESH_S", 0.05)
    beat = make("https://example.org/", send=lambda url: None)
    beat.alive()
    eventually(lambda: beat.withheld > 2)
    sent = beat.sent
    eventually(lambda: beat.withheld > 6)
    assert beat.sent == sent
    beat.alive()
    eventually(lambda: beat.sent > sent)


def test_failures_are_counted_and_said_until_one_arrives(make: Any, eventually: Eventually) -> None:
    broken = [DeliveryError("heartbeat: answered 500", retry=True)] * 2 + [ZeroDivisionError("token")]

    def send(_: str) -> None:
        if broken:
            raise broken.pop()

    beat = make("https://example.org/", send=send)
    beat.alive()
    eventually(lambda: beat.failed >= 1)
    eventually(lambda: beat.sent >= 1)
    assert beat.as_json()["failed"] == 3
    assert beat.failing == ""


def test_a_secret_that_is_missing_is_said(make: Any, eventually: Eventually) -> None:
    beat = make("env:NO_SUCH_HEARTBEAT", send=lambda url: None)
    beat.alive()
    eventually(lambda: beat.failed)
    assert "NO_SUCH_HEARTBEAT" in beat.failing


def test_a_secret_that_is_no_web_address_is_said_and_nothing_sent(
    make: Any, eventually: Eventually, tmp_path: Path
) -> None:
    (tmp_path / "beat").write_text("mailto:ada@example.org", encoding="utf-8")
    sent: list[str] = []
    beat = make("file:beat", send=sent.append)
    beat.alive()
    eventually(lambda: beat.failed)
    assert "file:beat" in beat.failing
    assert "expected https://" in beat.failing
    assert "ada" not in beat.failing
    assert sent == []


@pytest.mark.parametrize("url", ["mailto:ada@example.org", "console:", "ntfys://topic", "ftp://x", "no address"])
def test_only_web_addresses_are_taken(url: str) -> None:
    with pytest.raises(ValidationError):
        HeartbeatSettings(url=url)


def test_a_stop_does_not_wait_for_the_next_beat(make: Any) -> None:
    beat = make("https://example.org/", every_s=3600.0, send=lambda url: None)
    beat.alive()
    beat.stop()
    assert not beat._thread.is_alive()


def test_the_request_is_a_get_and_tells_no_path_when_it_fails() -> None:
    with pytest.raises(DeliveryError) as caught:
        ping("http://127.0.0.1:1/secret-token?key=secret")
    assert "secret" not in str(caught.value)
