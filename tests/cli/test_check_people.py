"""`dawnline check`: whoever cannot be told is named, and with `--notify` everybody gets a message marked TEST."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ..web import Handler, serving
from .checked import PERSON, on, says


def test_nobody_to_tell(call: Any) -> None:
    assert says(call("check"), "people: nobody is configured", "add [[people]]")


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # Apprise's, at its import
@pytest.mark.parametrize(
    ("address", "parts"),
    [
        ("env:NO_SUCH_ADDRESS", ["person Ada", "no variable NO_SUCH_ADDRESS", "set it"]),
        ("file:no-such-file", ["person Ada", "cannot read", "no-such-file"]),
        ("file:hello", ["person Ada", "the address in file:hello cannot be used"]),
        ("file:letter", ["person Ada", "no section [mail]"]),
        ("nonsuch://token@place", ["person Ada", 'no notification service answers to this "nonsuch://" address']),
    ],
)
def test_an_address_that_cannot_be_used(
    folder: Path, configure: Any, call: Any, address: str, parts: list[str]
) -> None:
    (folder / "hello").write_text("hello", encoding="utf-8")
    (folder / "letter").write_text("mailto:ada@example.org", encoding="utf-8")
    configure(PERSON.format(json.dumps([address, "console:"])))
    found = call("check")
    assert says(found, *parts)
    assert "token" not in found.out
    assert "well      person Ada: console" in found.out


def test_nobody_hears_of_little_things(configure: Any, call: Any) -> None:
    configure(PERSON.format('["console:"]') + 'priority = "high"\n')
    assert "remark    people: nobody hears of low-priority alarms" in call("check").out


@pytest.mark.parametrize(
    ("mail", "parts"),
    [
        ('username = "a"\npassword = "file:none"\n', ["mail server 127.0.0.1:PORT", "secret file:none"]),
        ("", ["mail server 127.0.0.1:PORT: nothing listens there"]),
    ],
)
def test_a_mail_server_that_is_not_to_be_had(
    configure: Any, call: Any, mail: str, parts: list[str], deaf_port: int
) -> None:
    configure(f'[mail]\nhost = "127.0.0.1"\nport = {deaf_port}\nsender = "pond@example.org"\n{mail}')
    assert says(call("check"), *(part.replace("PORT", str(deaf_port)) for part in parts))


@pytest.fixture
def hook() -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """A receiver: its address, and what it was told."""
    told: list[dict[str, Any]] = []

    class Hook(Handler):
        def asked(self) -> None:
            told.append(json.loads(self.body()))
            self.answer(500 if self.path == "/broken" else 204)

    with serving(Hook) as url:
        yield url, told


def test_everybody_gets_a_message_marked_test(
    configure: Any, call: Any, terminal: Path, hook: tuple[str, list[dict[str, Any]]]
) -> None:
    url, told = hook
    addresses = json.dumps(["console:", f"{url}/"])
    configure(PERSON.format(addresses) + 'priority = "high"\n', probes=on(terminal))
    found = call("check", "--notify", "--as", "wide-swing")
    assert found.status == 0
    assert "TEST Heron Lane: pH swings widely" in found.out
    assert found.out.count("test message to Ada") == 2
    (letter,) = told
    assert letter["subject"] == "TEST Heron Lane: pH swings widely (low priority)"
    assert letter["text"].startswith("TEST. Nothing has happened")
    assert "Test KH at the next good moment" in letter["text"]


def test_a_message_that_was_not_taken_is_not_well(
    configure: Any, call: Any, terminal: Path, hook: tuple[str, list[dict[str, Any]]]
) -> None:
    configure(PERSON.format(json.dumps([f"{hook[0]}/broken", "console:"])), probes=on(terminal))
    found = call("check", "--notify")
    assert found.status == 1
    assert "test message to Ada: NOT SENT: " in found.out
    assert "TEST Heron Lane: pH is low" in found.out


def test_without_notify_nobody_is_told(configure: Any, call: Any, hook: tuple[str, list[dict[str, Any]]]) -> None:
    configure(PERSON.format(json.dumps([f"{hook[0]}/"])))
    call("check")
    assert hook[1] == []


@pytest.mark.parametrize(
    ("days", "well", "says"),
    [
        ('until = "2020-01-01"', False, "nobody is to be told today"),
        ('until = "2020-01-01"', False, "is told nothing any more since 2020-01-01"),
        ('from = "2099-01-01"', False, "is told nothing before 2099-01-01"),
        ("", True, "there is one address in all"),
    ],
)
def test_who_is_told_today(days: str, well: bool, says: str, configure: Any, call: Any) -> None:
    configure(PERSON.format('["console:"]') + days + "\n")
    found = call("check")
    assert says in found.out
    assert ("NOT WELL  people" not in found.out) is well


def test_a_heartbeat_and_links_whose_secrets_are_missing_or_short(folder: Path, configure: Any, call: Any) -> None:
    (folder / "key").write_text("short", encoding="utf-8")
    (folder / "hash").write_text("x", encoding="utf-8")
    page = '[page]\naddress = "https://pond.example.org"\npassphrase = "file:hash"\nlink_key = "file:key"\n'
    configure(PERSON.format('["console:"]') + '[heartbeat]\nurl = "env:NO_SUCH_BEAT"\n' + page)
    found = call("check")
    assert says(found, "heartbeat", "NO_SUCH_BEAT")
    assert says(found, "links in messages", "found 5 bytes")
    (folder / "key").write_text("a key of some length", encoding="utf-8")
    assert "links in messages: lead to https://pond.example.org" in call("check").out
