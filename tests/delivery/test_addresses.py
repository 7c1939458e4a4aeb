from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from dawnline.delivery.addresses import check_address, parse_address, resolve_address
from dawnline.delivery.settings import PersonSettings
from dawnline.errors import SettingsError


@pytest.mark.parametrize(
    ("text", "channel", "target"),
    [
        ("console:", "console", ""),
        ("mailto:ada@example.org", "mail", "ada@example.org"),
        ("MAILTO:ada+pond@example.org", "mail", "ada+pond@example.org"),
        ("https://example.org/hook?x=1", "webhook", "https://example.org/hook?x=1"),
        ("http://[::1]:8080/hook", "webhook", "http://[::1]:8080/hook"),
        ("anything://token/room", "push", "anything://token/room"),
    ],
)
def test_each_form_has_its_channel(text: str, channel: str, target: str) -> None:
    address = parse_address(text)
    assert (address.channel, address.target) == (channel, target)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "console:"),
        ("ada@example.org", "mailto:"),
        ("console:x", "nothing after it"),
        ("mailto:", "one plain mailbox"),
        ("mailto:ada", "one plain mailbox"),
        ("mailto://ada:pw@example.org", "one plain mailbox"),
        ("mailto:ada@example.org,bo@example.org", "one plain mailbox"),
        ("mailto:ada@example.org?bcc=x@example.org", "one plain mailbox"),
        ("mailto:a\u00e4@example.org", "one plain mailbox"),
        ("mailto:ada@example.org\r\nDATA", "control characters"),
        ("https://", "needs a host"),
        ("https://example.org:99999/", "not a usable web address"),
        ("http://[::1/", "not a usable web address"),
        ("tel:+49", "is a URL"),
        ("sms://", "is a URL"),
        ("env:", 'a name after "env:"'),
    ],
)
def test_what_is_no_address_is_refused_with_the_remedy(text: str, expected: str) -> None:
    with pytest.raises(ValueError, match=expected):
        check_address(text)


def test_the_settings_refuse_it_too() -> None:
    with pytest.raises(ValidationError, match="one plain mailbox"):
        PersonSettings(name="Ada", addresses=("console:", "mailto:ada"))


def test_a_reference_is_followed_when_a_letter_is_sent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "phone").write_text("push://token/room\n")
    monkeypatch.setenv("ADA_MAIL", "mailto:ada@example.org")
    assert resolve_address("file:phone", tmp_path).target == "push://token/room"
    assert resolve_address("env:ADA_MAIL", tmp_path).channel == "mail"


def test_a_missing_secret_is_the_keepers_to_mend(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no variable DAWNLINE_NO_SUCH"):
        resolve_address("env:DAWNLINE_NO_SUCH", tmp_path)


def test_a_secret_that_is_no_address_is_not_quoted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ADA_PHONE", "tk_hidden")
    with pytest.raises(SettingsError, match="env:ADA_PHONE") as caught:
        resolve_address("env:ADA_PHONE", tmp_path)
    assert "tk_hidden" not in str(caught.value)


def test_a_target_is_kept_out_of_reprs() -> None:
    assert "token" not in repr(parse_address("push://token/room"))
