"""Who gets in, and who may change anything."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from dawnline.delivery.ack_link import Claim, sign
from dawnline.page.passphrase import hashed
from dawnline.page.session import COOKIE

from .conftest import GUEST, HASHES, KEEPER, OPENED, sign_in, token

Browser = Callable[..., TestClient]


def test_for_this_machine_alone_anybody_is_a_keeper(browser: Browser, service: Any) -> None:
    client = browser()
    form = client.get("/logbook/add/note")
    answer = client.post("/logbook/add/note", data={"token": token(form.text), "note": "a heron"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/logbook")
    assert service.got == [("note", {"note": "a heron"}, "page")]
    assert "Noted" in client.get("/logbook").text


@pytest.mark.parametrize("host", ["evil.example.org", "evil.example.org:8078", "", "[::2]"])
def test_it_answers_to_its_own_name_only(browser: Browser, host: str) -> None:
    assert browser().get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost:8078", "127.0.0.1", "[::1]:8078"])
def test_its_own_names(browser: Browser, host: str) -> None:
    assert browser().get("/probes", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/days", "/alarms", "/logbook", "/probes", "/now-part", "/logbook/add/note"])
def test_nothing_is_seen_without_signing_in(browser: Browser, path: str) -> None:
    answer = browser(OPENED).get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")


def test_signing_in_and_out(browser: Browser, service: Any) -> None:
    client = browser(OPENED)
    assert sign_in(client, "wrong").status_code == 403
    assert sign_in(client, KEEPER, "Ada").headers["location"] == "/"
    page = client.get("/logbook/add/note").text
    client.post("/logbook/add/note", data={"token": token(page), "note": "a heron"})
    assert service.got[-1] == ("note", {"note": "a heron"}, "Ada (page)")
    client.post("/sign-out", data={"token": token(page)})
    assert client.get("/").headers["location"] == "/sign-in"


def test_a_name_that_nobody_has_is_not_taken(browser: Browser, service: Any) -> None:
    client = browser(OPENED)
    sign_in(client, KEEPER, "Mallory")
    page = client.get("/logbook/add/note").text
    client.post("/logbook/add/note", data={"token": token(page), "note": "x"})
    assert service.got[-1][2] == "page"


def test_guests_look_and_change_nothing(browser: Browser, service: Any) -> None:
    client = browser(OPENED)
    sign_in(client, GUEST)
    page = client.get("/logbook")
    assert page.status_code == 200
    assert "/logbook/add/" not in page.text
    assert "<form" not in client.get("/logbook/add/note").text.split("</main>")[0]
    answer = client.post("/alarms/1/acknowledge", data={"token": token(page.text)})
    assert answer.status_code == 403
    assert service.got == []


def test_the_cookie_is_kept_from_scripts_and_other_sites(browser: Browser) -> None:
    client = browser(OPENED + 'address = "https://pond.example.org"\n')
    cookie = sign_in(client, KEEPER).headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "samesite=strict", "secure"))


def test_a_session_is_never_taken_up(browser: Browser) -> None:
    """Whatever cookie somebody planted before, signing in gives another one."""
    client = browser(OPENED)
    sign_in(client, GUEST)
    planted = client.cookies[COOKIE]
    sign_in(client, KEEPER)
    assert client.cookies[COOKIE] != planted
    other = browser(OPENED)
    other.cookies.set(COOKIE, planted)
    assert "/logbook/add/" not in other.get("/logbook").text


@pytest.mark.parametrize("forged", ["", "x", "a.b", "." * 500, "e30=.AAAA"])
def test_forged_cookies(browser: Browser, forged: str) -> None:
    client = browser(OPENED)
    client.cookies.set(COOKIE, forged)
    assert client.get("/").headers["location"] == "/sign-in"


@pytest.mark.parametrize("data", [{}, {"token": "x"}, {"token": ""}])
def test_a_form_from_elsewhere(browser: Browser, service: Any, data: dict[str, str]) -> None:
    client = browser()
    client.get("/")
    assert client.post("/logbook/add/note", data={**data, "note": "x"}).status_code == 403
    assert service.got == []


def test_the_token_of_another_session(browser: Browser, service: Any) -> None:
    mine, theirs = browser(), browser()
    stolen = token(theirs.get("/logbook/add/note").text)
    mine.get("/logbook/add/note")
    assert mine.post("/logbook/add/note", data={"token": stolen, "note": "x"}).status_code == 403
    assert service.got == []


def test_what_was_typed_outlives_the_session(browser: Browser, service: Any) -> None:
    """A form that was open while the session ended is shown again, and only then sent, with its new token."""
    client = browser()
    client.get("/logbook/add/note")
    sent = {"token": "of a session that has ended", "note": "a <heron>"}
    ours = {"origin": "http://127.0.0.1:8078"}
    answer = client.post("/logbook/add/note", data=sent, headers=ours)
    assert answer.status_code == 403
    assert service.got == []
    assert 'name="note" value="a &lt;heron&gt;"' in answer.text
    again = client.post("/logbook/add/note", data={**sent, "token": token(answer.text)}, headers=ours)
    assert again.status_code == 303
    assert [body for _, body, _ in service.got] == [{"note": "a <heron>"}]


def test_what_was_typed_outlives_being_signed_out(browser: Browser, service: Any) -> None:
    client = browser(OPENED)
    sent = {"token": "old", "note": "a heron"}
    assert client.post("/logbook/add/note", data=sent).headers["location"] == "/sign-in"
    assert client.post("/logbook/add/note", data=sent, headers={"origin": "https://evil.example"}).status_code == 303
    answer = client.post("/logbook/add/note", data=sent, headers={"origin": "http://127.0.0.1:8078"})
    assert answer.status_code == 403
    assert "Sign in on another tab" in answer.text
    assert 'name="note" value="a heron"' in answer.text
    assert service.got == []


def test_a_post_that_another_site_sends(browser: Browser, service: Any) -> None:
    client = browser()
    right = token(client.get("/logbook/add/note").text)
    sent = {"token": right, "note": "x"}
    assert client.post("/logbook/add/note", data=sent, headers={"origin": "https://evil.example"}).status_code == 403
    assert client.post("/logbook/add/note", data=sent, headers={"origin": "http://127.0.0.1:8078"}).status_code == 303
    assert len(service.got) == 1


def test_guessing_is_slowed_down(browser: Browser) -> None:
    client = browser(OPENED, monotonic_s=lambda: 0.0)
    answers = [sign_in(client, f"wrong {n}").status_code for n in range(8)]
    assert answers == [403] * 5 + [429] * 3
    assert sign_in(client, KEEPER).status_code == 429  # the right one has to wait as well: nothing is learned from it


def test_another_passphrase_signs_out_whoever_had_the_old_one(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = browser(OPENED)
    sign_in(client, KEEPER)
    monkeypatch.setitem(HASHES, "keeper", hashed("another four words"))
    again = browser(OPENED)
    again.cookies.update(client.cookies)
    assert (client.get("/").status_code, again.get("/").status_code) == (200, 303)


def link(browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, **claim: Any) -> tuple[TestClient, str]:
    monkeypatch.setenv("LINK_KEY", "k" * 32)
    client = browser(OPENED + 'address = "https://pond.example.org"\nlink_key = "env:LINK_KEY"\n')
    until = round(time.time() * 1000) + 3_600_000
    said = {"pond": "Heron Lane", "episodes": (3, 4), "person": "Ada", "until": until, **claim}
    return client, sign(Claim(**said), b"k" * 32)


def test_the_link_of_a_message(browser: Browser, service: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    client, right = link(browser, tmp_path, monkeypatch)
    shown = client.get(f"/acknowledge?t={right}")  # what a mail scanner does, too
    assert (shown.status_code, service.got) == (200, [])
    assert "Ada, do you have it? Alarm 3, 4." in shown.text
    assert client.post("/acknowledge", data={"t": right}).status_code == 200
    assert service.got == [("acknowledge", {"id": 3}, "Ada (link)"), ("acknowledge", {"id": 4}, "Ada (link)")]
    service.verdict = (False, "alarm 3 is acknowledged already, by Ada")
    assert "acknowledged already" in client.post("/acknowledge", data={"t": right}).text  # stolen, and used again
    assert client.get("/").headers["location"] == "/sign-in"  # it opens nothing else


@pytest.mark.parametrize("claim", [{"pond": "Other"}, {"until": 0}])
def test_a_link_that_is_not_valid(
    browser: Browser, service: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, claim: dict[str, Any]
) -> None:
    client, wrong = link(browser, tmp_path, monkeypatch, **claim)
    for given in (wrong, wrong[:-2], ""):
        assert client.get(f"/acknowledge?t={given}").status_code == 403
        assert client.post("/acknowledge", data={"t": given}).status_code == 403
    assert service.got == []


def test_no_link_without_a_key(browser: Browser) -> None:
    assert browser().get("/acknowledge?t=x").status_code == 404


def test_limits_of_size(browser: Browser, service: Any) -> None:
    client = browser()
    right = token(client.get("/logbook/add/note").text)
    assert client.post("/logbook/add/note", data={"token": right, "note": "x" * 70_000}).status_code == 413
    assert client.get("/days?from=" + "x" * 3000).status_code == 414

    def drops() -> Any:  # without a length
        for _ in range(100):
            yield b"x" * 1000

    assert client.post("/logbook/add/note", content=drops()).status_code == 413
    assert service.got == []


@pytest.mark.parametrize("path", ["/../etc/passwd", "/%2e%2e/etc/passwd", "/static/page.js", "/x"])
def test_paths_that_lead_nowhere(browser: Browser, path: str) -> None:
    assert browser().get(path).status_code == 404


@pytest.mark.parametrize("path", ["/", "/sign-in", "/nowhere", "/style.css", "/page.js"])
def test_headers(browser: Browser, path: str) -> None:
    headers = browser().get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["date"].endswith(" GMT")
