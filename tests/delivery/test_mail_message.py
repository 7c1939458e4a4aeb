from __future__ import annotations

import email
import email.policy
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from dawnline.delivery.mail import message
from dawnline.letter import Letter


@given(subject=st.text(st.characters(), max_size=200), text=st.text(st.characters(), max_size=400))
def test_any_text_survives_the_mail(subject: str, text: str) -> None:
    letter = Letter("k", 0, 1, "Ada", "mailto:ada@example.org", "low", subject, text)
    raw = message(letter, "ada@example.org", "pond@example.org").as_bytes()
    assert raw.isascii()
    assert max(len(line) for line in raw.split(b"\n")) < 998  # RFC 5322, 2.1.1
    got = email.message_from_bytes(raw, policy=email.policy.default)
    assert sorted(got.keys()) == sorted(
        ["From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type",
         "Content-Transfer-Encoding"]
    )  # fmt: skip
    assert got["Subject"] == letter.subject_to_send.replace("=?", "= ?")
    assert got.get_content() == letter.text_to_send + "\n"


def test_a_subject_that_looks_encoded_stays_as_it_is(letter: Letter) -> None:
    raw = message(replace(letter, subject="=?utf-8?q?a?="), "ada@example.org", "pond@example.org").as_bytes()
    assert email.message_from_bytes(raw, policy=email.policy.default)["Subject"] == "= ?utf-8?q?a?="
