"""Passphrases, sealed cookies, and how long whoever guesses has to wait."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dawnline.errors import SettingsError
from dawnline.page.attempts import Attempts
from dawnline.page.passphrase import hashed, is_hash, matches
from dawnline.page.session import LASTS_S, Seal, key_of, mark

from .conftest import KEEPER, OPENED


def test_how_long_one_waits() -> None:
    attempts = Attempts()
    waits = []
    for _ in range(20):
        attempts.wrong("10.0.0.1", 0.0)
        waits.append(attempts.wait_s("10.0.0.1", 0.0))
    assert waits[:7] == [0, 0, 0, 0, 1, 2, 4]
    assert max(waits) == 900
    assert attempts.wait_s("10.0.0.2", 0.0) == 0
    assert attempts.wait_s("10.0.0.1", 901.0) == 0
    attempts.right("10.0.0.1")
    assert attempts.wait_s("10.0.0.1", 0.0) == 0


def test_many_addresses_together_wait_too() -> None:
    attempts = Attempts()
    for n in range(60):
        attempts.wrong(f"10.0.0.{n}", 0.0)
    assert attempts.wait_s("10.9.9.9", 0.0) > 0


def test_what_is_remembered_of_addresses_is_bounded() -> None:
    attempts = Attempts()
    for n in range(5000):
        attempts.wrong(str(n), float(n))
    assert len(attempts._wrong) <= 1001


@pytest.mark.parametrize("kept", ["", "plain text", "scrypt$3$8$1$AA==$AA==", hashed(KEEPER)[:-8], "scrypt$x$8$1$a$b"])
def test_what_is_no_hash(kept: str) -> None:
    assert not is_hash(kept)
    assert not matches(KEEPER, kept)


def test_a_hash_knows_its_passphrase() -> None:
    kept = hashed("Käsekuchen im Teich")
    assert matches("Käsekuchen im Teich", kept)
    assert not matches("Käsekuchen im teich", kept)
    assert hashed("Käsekuchen im Teich") != kept


def test_a_secret_that_holds_the_passphrase_itself_is_refused(tmp_path: Path, settings: Any) -> None:
    from dawnline.cli.page import doors
    from dawnline.page.app import Site

    found = settings(OPENED)
    (tmp_path / "keeper").write_text(KEEPER)
    with pytest.raises(SettingsError, match="--hash"):
        Site([doors(found)])


def test_sessions_end_and_keys_differ(tmp_path: Path) -> None:
    seal = Seal(key_of(tmp_path / "pond.db"))
    session = seal.begin(("a mark",), "Ada", 1000.0)
    assert seal.read(session.cookie, 1000.0 + LASTS_S - 1) == session
    assert seal.read(session.cookie, 1000.0 + LASTS_S + 1) is None
    again = Seal(key_of(tmp_path / "pond.db"))
    assert again.read(session.cookie, 1000.0) == session  # the process has started anew
    assert Seal(key_of(tmp_path / "other.db")).read(session.cookie, 1000.0) is None
    assert (tmp_path / "pond.db.page-key").stat().st_mode & 0o777 == 0o600


def test_a_cookie_holds_what_was_given_and_never_grows_too_long(tmp_path: Path) -> None:
    seal, given = Seal(key_of(tmp_path / "pond.db")), [mark(f"hash {number}") for number in range(30)]
    session = seal.begin(given, "ü" * 60, 1000.0)
    assert session.given == tuple(given[-20:])
    assert seal.read(session.cookie, 1000.0) == session
