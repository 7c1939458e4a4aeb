from __future__ import annotations

import io
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from dawnline.delivery.channels import Channels
from dawnline.delivery.later import LaterError
from dawnline.errors import DeliveryError
from dawnline.letter import Letter


def test_the_console_shows_the_letter(letter: Letter, tmp_path: Path) -> None:
    out = io.StringIO()
    Channels(None, tmp_path, out).send(replace(letter, address="console:", text="Air\x1b[2J first."))
    lines = out.getvalue().splitlines()
    assert lines[0].startswith("== high == for Ada ====")
    assert "  Heron Lane: pH 6.4 and falling" in lines
    assert "  Air [2J first." in lines


@pytest.mark.parametrize(
    ("line", "first", "below"),
    [
        ("pond " * 30, "  pond pond", "  pond"),
        ("  indented " + "pond " * 30, "    indented pond", "    pond"),
        ("1. " + "pond " * 30, "  1. pond", "     pond"),
        ("  1. " + "pond " * 30, "    1. pond", "       pond"),
        ("  12. " + "pond " * 30, "    12. pond", "        pond"),
        ("- " + "pond " * 30, "  - pond", "    pond"),
        ("  * " + "pond " * 30, "    * pond", "      pond"),
        ("6.4 is low: " + "pond " * 30, "  6.4 is low:", "  pond"),
    ],
)
def test_the_console_wraps_long_lines_under_their_first_word(
    line: str, first: str, below: str, letter: Letter, tmp_path: Path
) -> None:
    out = io.StringIO()
    Channels(None, tmp_path, out).send(replace(letter, address="console:", text=f"Steps:\n\n{line}"))
    rows = out.getvalue().splitlines()
    assert max(map(len, rows)) <= 78
    assert rows[3:5] == ["  Steps:", ""]
    assert len(rows) >= 8
    assert rows[5].startswith(first)
    assert all(row.startswith(below) for row in rows[6:-1])
    assert " ".join(" ".join(rows[5:-1]).split()) == line.strip()


def test_the_console_wraps_a_long_subject_and_carries_a_long_word(letter: Letter, tmp_path: Path) -> None:
    out = io.StringIO()
    wide = replace(letter, address="console:", subject="pond " * 30, text="x" * 200)
    Channels(None, tmp_path, out).send(wide)
    assert max(map(len, out.getvalue().splitlines())) <= 78
    assert out.getvalue().count("x") == 200
    assert out.getvalue().count("pond") == 30


def test_a_closed_console_is_tried_again(letter: Letter, tmp_path: Path) -> None:
    out = io.StringIO()
    out.close()
    with pytest.raises(DeliveryError) as caught:
        Channels(None, tmp_path, out).send(replace(letter, address="console:"))
    assert caught.value.retry


def test_a_console_that_lacks_a_letter_shows_the_rest(letter: Letter, tmp_path: Path) -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii")
    Channels(None, tmp_path, out).send(replace(letter, address="console:", text="18 °C"))
    assert b"18 ?C" in raw.getvalue()


def test_mail_without_a_server_is_dead(letter: Letter, tmp_path: Path) -> None:
    with pytest.raises(DeliveryError, match=r"\[mail\]") as caught:
        Channels(None, tmp_path, io.StringIO()).send(letter)
    assert not caught.value.retry


def test_a_secret_that_is_missing_is_tried_again_slowly(letter: Letter, tmp_path: Path) -> None:
    with pytest.raises(LaterError, match="DAWNLINE_NO_SUCH"):
        Channels(None, tmp_path, io.StringIO()).send(replace(letter, address="env:DAWNLINE_NO_SUCH"))


def test_the_libraries_wait_for_the_first_letter() -> None:
    code = (
        "import dawnline.delivery.worker, dawnline.delivery.channels, sys;"
        "print(sorted({'smtplib', 'urllib3', 'apprise', 'paho'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
