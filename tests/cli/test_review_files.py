"""The files that `review` writes: self-contained, escaped, never over the pond's own or over a stranger's."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from dawnline.cli.out_file import write_out
from dawnline.errors import SettingsError

WICKED = '<script>alert("x")</script>&amp;'


@pytest.fixture
def wicked(folder: Path, replay: Any) -> Path:
    """Two days of a pond whose name is markup, and a note that is."""
    config = folder / "dawnline.toml"
    config.write_text(config.read_text(encoding="utf-8").replace('"Heron Lane"', json.dumps(WICKED)), encoding="utf-8")
    rows = [
        f"2026-06-{day:02d}T{m // 60:02d}:{m % 60:02d}:00+02:00,{6.3 if m > 900 else 7.6},18.5"
        for day in (8, 9)
        for m in range(0, 1440, 10)
    ]
    act = {"time": "2026-06-09T10:00:00+02:00", "act": "note", "note": WICKED, "by": "<i>ada</i>"}
    (folder / "acts.jsonl").write_text(json.dumps(act), encoding="utf-8")
    done = replay("\n".join(["time,ph,water", *rows]), "--store", "pond.db", "--acts", "acts.jsonl")
    assert done.status == 0, done.err
    return folder


def test_what_somebody_named_or_wrote_stays_text(wicked: Path, call: Any) -> None:
    assert call("review", "--html", "week.html").status == 0
    html = (wicked / "week.html").read_text(encoding="utf-8")
    assert "<script" not in html
    assert "<i>ada" not in html
    assert html.count("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&amp;amp;") >= 4
    for svg in re.findall(r"<svg.*?</svg>", html, re.DOTALL):
        ElementTree.fromstring(svg)


def test_a_report_asks_for_nothing_from_outside(wicked: Path, call: Any) -> None:
    call("review", "--html", "week.html")
    html = (wicked / "week.html").read_text(encoding="utf-8")
    assert html.count("<svg ") >= 6
    addresses = set(re.findall(r"[a-z]+://[^\"' <)]+", html)) - {"http://www.w3.org/2000/svg"}
    assert addresses == set()
    assert not re.search(r"\b(src|href|action|@import|url\()", html)


def test_an_own_file_is_written_anew(wicked: Path, call: Any) -> None:
    for _ in range(2):
        assert call("review", "--html", "week.html", "--csv", "week.csv").status == 0
    (wicked / "empty.html").touch()
    assert call("review", "--html", "empty.html").status == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--html", "dawnline.toml"], "is a file of this pond itself"),
        (["--csv", "pond.db"], "is a file of this pond itself"),
        (["--csv", "./pond.db-wal"], "is a file of this pond itself"),
        (["--html", "acts.jsonl"], "exists and was not written by this command"),
        (["--csv", "in.csv"], "exists and was not written by this command"),
        (["--html", "runtime"], "found a directory"),
        (["--html", "nowhere/week.html"], "there is no folder nowhere"),
        (["--html", "-"], "expected the name of a file"),
        (["--html", "week", "--csv", "week"], "name two files"),
        (["--json", "--csv", "-"], "both want standard output"),
    ],
)
def test_what_must_not_be_written_over(wicked: Path, call: Any, words: list[str], says: str) -> None:
    kept = [path for path in wicked.iterdir() if path.is_file() and not path.name.endswith(("-wal", "-shm"))]
    before = {path.name: path.read_bytes() for path in kept}
    found = call("review", *words)
    assert found.status == 2
    assert says in found.err
    assert {path.name: path.read_bytes() for path in kept} == before


def test_an_interrupted_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "week.html"
    out.write_text("old", encoding="utf-8")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(SettingsError, match="No space left"):
        write_out(out, "new")
    assert out.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["week.html"]


def test_an_empty_store_gives_no_file(folder: Path, replay: Any, call: Any) -> None:
    replay("time,ph\n", "--store", "pond.db")
    found = call("review", "--html", "week.html", "--csv", "week.csv")
    assert (found.status, found.err) == (1, "nothing has been recorded yet\n")
    assert not (folder / "week.html").exists()


def test_days_without_a_record_are_a_report_all_the_same(wicked: Path, call: Any) -> None:
    assert call("review", "--html", "week.html", "--from", "2026-01-01", "--to", "2026-01-07").status == 0
    html = (wicked / "week.html").read_text(encoding="utf-8")
    assert "Nothing was recorded on these days." in html
    assert "<svg " not in html
