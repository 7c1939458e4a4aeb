from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from dawnline.delivery.settings import MailSettings
from dawnline.event import Message
from dawnline.letter import Letter, Marks, letters, one_line

MESSAGE = Message(
    "water/medium/1/raised/1000/Ada", 1_000, "Ada", ("console:",), "raised", "medium", "pH 6.4", "Air first.", 1,
    "water/1/1000", True, (1,),
)  # fmt: skip


def test_one_letter_for_each_address() -> None:
    keys = [each.key for each in letters(replace(MESSAGE, addresses=("console:", "mailto:ada@example.org")))]
    assert keys == ["water/medium/1/raised/1000/Ada/console:", "water/medium/1/raised/1000/Ada/mailto:ada@example.org"]


def test_an_address_written_twice_gives_one_letter() -> None:
    assert len(letters(replace(MESSAGE, addresses=("console:", "console:")))) == 1


def test_a_secret_stays_a_reference() -> None:
    (letter,) = letters(replace(MESSAGE, addresses=("env:ADA_PHONE",)))
    assert letter.address == "env:ADA_PHONE"
    assert letter.key.endswith("/Ada/env:ADA_PHONE")


def test_the_letter_carries_the_message() -> None:
    (letter,) = letters(MESSAGE)
    assert letter == Letter(
        "water/medium/1/raised/1000/Ada/console:", 1_000, 1, "Ada", "console:", "medium", "pH 6.4", "Air first.",
        thread="water/1/1000", opens=True, asks=(1,),
    )  # fmt: skip


def test_a_repeat_says_so() -> None:
    (first,) = letters(MESSAGE)
    again = replace(first, attempts=1)
    marks = Marks("{line} (noch einmal)", "Noch einmal.")
    assert marks.on(first) == first
    assert (marks.on(again).subject, marks.on(again).text) == ("pH 6.4 (noch einmal)", "Noch einmal.\n\nAir first.")
    assert marks.on(again).key == first.key


@pytest.mark.parametrize("unfit", ["\x00", "\x1b", "\x85", "\ud800", "\u2028", "\u2029"])
def test_what_no_channel_can_carry_becomes_a_space(unfit: str) -> None:
    letter = Letter("k", 0, 1, "Ada", "console:", "low", f"a{unfit}b", f"a{unfit}b")
    assert (letter.subject_to_send, letter.text_to_send) == ("a b", "a b")


@given(st.text(alphabet=st.characters(), max_size=60))
def test_any_text_becomes_fit_to_send(text: str) -> None:
    line = one_line(text)
    assert len(line.splitlines()) <= 1
    assert one_line(line) == line
    line.encode("utf-8")
    letter = Letter("k", 0, 1, "Ada", "console:", "low", text, text)
    bad = {c for c in letter.text_to_send if unicodedata.category(c) in ("Cc", "Cs")} - {"\n", "\t"}
    assert not bad


@pytest.mark.parametrize(
    "bad",
    [
        {"username": "ada"},
        {"password": "env:PW"},
        {"sender": "Ada <ada@example.org>"},
        {"sender": "a@b\nBcc: c@d"},
    ],
)
def test_mail_settings_that_cannot_work_are_refused(bad: dict[str, str]) -> None:
    whole = {"host": "mail.example.org", "sender": "pond@example.org", **bad}
    with pytest.raises(ValidationError, match=r"go together|one plain mailbox"):
        MailSettings.model_validate(whole)
