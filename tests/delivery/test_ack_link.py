"""The link in a message: nobody makes one without the key, changes one, or uses it for long or for anything else."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.delivery.ack_link import LASTS_MS, LONGEST, Claim, Links, check, link_key, sign
from dawnline.delivery.ack_page import Answer, answer
from dawnline.delivery.channels import Channels
from dawnline.errors import InputError, SettingsError
from dawnline.letter import Letter
from dawnline.secret import Secret

KEY = b"a key of some length"
NOW = 1_780_000_000_000
CLAIM = Claim("Heron Lane", (3, 4), "Ada", NOW + LASTS_MS)
TOKEN = sign(CLAIM, KEY)


def refused(token: str, at: int = NOW, pond: str = "Heron Lane", key: bytes = KEY) -> str:
    with pytest.raises(InputError) as caught:
        check(token, key, pond, at)
    return str(caught.value)


def test_what_was_signed_is_read_again() -> None:
    assert check(TOKEN, KEY, "Heron Lane", NOW) == CLAIM
    assert set(TOKEN) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.")


def test_it_expires() -> None:
    assert check(TOKEN, KEY, "Heron Lane", NOW + LASTS_MS - 1)
    assert "expired" in refused(TOKEN, NOW + LASTS_MS)


def test_another_pond_or_another_key_is_refused_alike() -> None:
    assert refused(TOKEN, pond="Other") == refused(TOKEN, key=b"another key of length") == "this link is not valid"


@given(st.integers(0, len(TOKEN) - 1), st.characters(codec="ascii"))
def test_no_character_can_be_changed(place: int, other: str) -> None:
    changed = TOKEN[:place] + other + TOKEN[place + 1 :]
    if changed != TOKEN:
        assert refused(changed) == "this link is not valid"


@given(st.text(max_size=80))
def test_anything_else_is_refused(token: str) -> None:
    assert refused(token) == "this link is not valid"


def test_no_signature_for_something_else_fits() -> None:
    body = json.dumps(["Heron Lane", [3], "Ada", NOW + LASTS_MS]).encode()
    bare = hmac.new(KEY, body, hashlib.sha256).digest()
    token = ".".join(base64.urlsafe_b64encode(part).rstrip(b"=").decode() for part in (body, bare))
    assert refused(token) == "this link is not valid"


def test_a_token_without_end_is_not_looked_at() -> None:
    assert refused("a" * (LONGEST + 1) + ".b") == "this link is not valid"


def test_a_short_key_is_refused(tmp_path: Path) -> None:
    (tmp_path / "key").write_text("short\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="link_key: found 5 bytes"):
        link_key(Secret("file:key", tmp_path))


# ---------------------------------------------------------------- in a message


@pytest.fixture
def links(tmp_path: Path) -> Links:
    (tmp_path / "key").write_bytes(KEY)
    return Links("https://pond.example.org", Secret("file:key", tmp_path), "Heron Lane", "Your answer:")


def sent(letter: Letter, links: Links | None, folder: Path) -> str:
    out = StringIO()
    Channels(None, folder, out, links).send(replace(letter, address="console:"))
    return "".join(out.getvalue().split())


def test_a_message_that_asks_for_something_holds_a_link(links: Links, letter: Letter, tmp_path: Path) -> None:
    asking = replace(letter, asks=(3, 4), at=NOW)
    link = links.to_answer(asking)
    says, link = link.split("\n")
    assert says == "Your answer:"
    assert link.startswith("https://pond.example.org/acknowledge?t=")
    assert check(link.partition("?t=")[2], KEY, "Heron Lane", NOW) == CLAIM
    assert link in sent(asking, links, tmp_path)


def test_no_link_where_nothing_is_asked_or_none_is_configured(links: Links, letter: Letter, tmp_path: Path) -> None:
    assert "acknowledge?t=" not in sent(letter, links, tmp_path)
    assert "acknowledge?t=" not in sent(replace(letter, asks=(3,)), None, tmp_path)


def test_without_its_key_the_message_goes_all_the_same(links: Links, letter: Letter, tmp_path: Path) -> None:
    (tmp_path / "key").unlink()
    assert "Airfirst." in sent(replace(letter, asks=(3,)), links, tmp_path)


# ---------------------------------------------------------------- the page behind it


class Desk:
    """Takes acknowledgements; refuses `refuse`, does not answer for `silent`."""

    def __init__(self, refuse: int = 0, silent: int = 0) -> None:
        self.got: list[tuple[int, str]] = []
        self.refuse, self.silent = refuse, silent

    def __call__(self, episode: int, person: str) -> tuple[bool, str] | None:
        self.got.append((episode, person))
        if episode == self.silent:
            return None
        return (episode != self.refuse, "cannot acknowledge" if episode == self.refuse else "acknowledged")


def ask(method: str, desk: Desk, token: str = TOKEN, at: int = NOW) -> Answer:
    return answer(method, token, KEY, pond="Heron Lane", at=at, put=desk)


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_opening_the_link_changes_nothing_and_asks(method: str) -> None:
    desk = Desk()
    found = ask(method, desk)
    assert (found.status, desk.got) == (200, [])
    assert '<form method="post" action="/acknowledge">' in found.body
    assert TOKEN in found.body
    assert "Alarm 3, 4" in found.body


def test_the_button_does_it_in_the_name_of_whom_the_message_was_for() -> None:
    desk = Desk()
    found = ask("POST", desk)
    assert (found.status, desk.got) == (200, [(3, "Ada"), (4, "Ada")])
    assert "Alarm 3: acknowledged" in found.body


@pytest.mark.parametrize(("desk", "says"), [(Desk(refuse=4), "cannot acknowledge"), (Desk(silent=3), "not answered")])
def test_what_was_refused_is_said(desk: Desk, says: str) -> None:
    found = ask("POST", desk)
    assert (found.status, len(desk.got)) == (409, 2)
    assert says in found.body


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize(("token", "at"), [("x.y", NOW), (TOKEN[:-1], NOW), (TOKEN, NOW + LASTS_MS), ("", NOW)])
def test_a_bad_link_does_nothing(method: str, token: str, at: int) -> None:
    desk = Desk()
    found = ask(method, desk, token, at)
    assert (found.status, desk.got) == (403, [])


def test_no_other_method_does_anything() -> None:
    desk = Desk()
    found = ask("PUT", desk)
    assert (found.status, desk.got, found.headers["Allow"]) == (405, [], "GET, HEAD, POST")


def test_names_cannot_write_into_the_page() -> None:
    claim = replace(CLAIM, pond="<b>x</b>", person='"><script>')
    found = answer("GET", sign(claim, KEY), KEY, pond="<b>x</b>", at=NOW, put=Desk())
    assert "<script>" not in found.body
    assert "<b>" not in found.body


def test_the_link_stays_between_us() -> None:
    headers = ask("GET", Desk()).headers
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cache-Control"] == "no-store"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
