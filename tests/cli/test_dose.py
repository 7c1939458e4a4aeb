"""`dawnline dose`: values on the line, values from the store, refusals, JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

LINE = ("--volume", "14m3", "--kh", "3 drops", "--ph", "7.5", "--temperature", "64F")


@pytest.fixture
def bare(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with no configuration in it."""
    (folder / "dawnline.toml").unlink()
    monkeypatch.delenv("DAWNLINE_CONFIG", raising=False)
    return folder


def test_everything_can_be_given_on_the_line(bare: Path, call: Any) -> None:
    said = call("dose", "raise-kh", "--to", "5dKH", *LINE)
    assert (said.status, said.err) == (0, "")
    assert "day 1: 419 g of sodium bicarbonate" in said.out
    assert "in balance with the air" in said.out
    assert "KH 2.50 dKH, not less than 2.00 (given, read as 3 dKH)" in said.out
    assert "a fish vet come first" in said.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("raise-kh", "--to", "40dKH", *LINE), "a target of 40 dKH"),
        (("raise-kh", "--to", "5dKH", "--kh", "3dKH", "--volume", "14L"), "a volume of 14 L"),
        (("raise-kh", "--to", "5dKH", "--kh", "3dKH", "--volume", "14000 m3"), "a volume of 14,000,000 L"),
        (("raise-kh", "--to", "5dKH", "--kh", "3dKH"), "volume is not known"),
        (("raise-kh", "--to", "5dKH", *LINE, "--ammonia", "1 mg/L N"), "total ammonia is 1 mg/L"),
        (("raise-kh", "--to", "5dKH", *LINE, "--with", "soda ash"), "strong base"),
        (("raise-kh", "--to", "5dKH", *LINE, "--with", "lye"), "strong base"),
        (("raise-kh", "--to", "6dKH", *LINE, "--days", "1"), "could rise by"),
        (("lower-ph", *LINE, "--with", "muriatic acid"), "strong acid"),
        (("lower-ph", "--volume", "14m3", "--kh", "2 drops", "--with", "vinegar"), "no acid below 2"),
        (("lower-ph", *LINE, "--target", "7.2"), "never added to reach a pH"),
        (("water-change", "--share", "80%", *LINE, "--source-kh", "3dKH"), "80% at once"),
    ],
)
def test_what_is_unsafe_is_refused_with_status_1(bare: Path, call: Any, words: tuple[str, ...], says: str) -> None:
    said = call("dose", *words)
    assert said.status == 1
    assert says in said.out
    assert "instead:" in said.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("raise-kh", "--to", "5dKH", "--volume", "14"), "--volume: found '14', without a unit"),
        (("raise-kh", "--to", "five", *LINE), "--to: found 'five'"),
        (("raise-kh", "--to", "5dKH", *LINE, "--ammonia", "0.5"), "--ammonia"),
        (
            ("raise-kh", "--to", "5dKH", *LINE, "--days", "0"),
            "found '0', expected a number of days from 1 to 365",
        ),
        (("shell", "--kh-then", "3dKH", *LINE), "beside --kh-then give --days, --feed"),
        (("shell", "--kh-then", "3dKH", *LINE, "--feed", "9g/day", "--days", "soon"), "--days: found 'soon'"),
        (("water-change", *LINE), "either --share"),
        (("water-change", "20%", *LINE), "expected --share 20%"),
        (("water-change", "2000", "gal", *LINE), "expected --amount '2000 gal'"),
        (("water-change", "--share", "15", *LINE), "expected a share such as 15% or 0.15"),
        (
            ("raise-kh", "--to", "5dKH", "--volume", "14m3", "--kh", "3dKH", "--ph", "71"),
            "pH: a pond's lies between 4.5 and 11, found 71",
        ),
    ],
)
def test_a_wrong_call_is_named_with_its_option(bare: Path, call: Any, words: tuple[str, ...], says: str) -> None:
    said = call("dose", *words)
    assert (said.status, said.out) == (2, "")
    assert says in said.err


def test_json(bare: Path, call: Any) -> None:
    said = call("dose", "water-change", "--share", "15%", *LINE, "--source-kh", "8dKH", "--json")
    plan = json.loads(said.out)
    assert (plan["version"], plan["plan"], plan["refused"]) == (1, "water-change", False)
    assert plan["steps"][0]["unit"] == "L"
    assert plan["values"]["volume_l"] == {"value": 14000, "from": "given"}
    assert plan["values"]["alkalinity_meq_l"]["least"] == pytest.approx(2 * 0.35665, abs=1e-3)
    assert plan["steps"][0]["kh_dkh"] == pytest.approx(2.5 + 0.15 * 5.5, abs=0.001)


ROWS = [
    f"2026-06-{day:02d}T{m // 60:02d}:{m % 60:02d}:00+02:00,{8.2 - abs(m - 1020) / 1000:.4f},18.5"
    for day in (8, 9, 10)
    for m in range(0, 1440, 10)
]


@pytest.fixture
def filled(folder: Path, replay: Any) -> Path:
    """A store with three days, a test of KH and one of ammonia."""
    acts = [
        {"time": "2026-06-09T10:00:00+02:00", "act": "hand-test", "kh_dkh": 3, "by": "ada"},
        {"time": "2026-06-10T10:00:00+02:00", "act": "hand-test", "tan_mg_l": 0.05, "by": "ada"},
    ]
    (folder / "acts.jsonl").write_text("\n".join(json.dumps(act) for act in acts), encoding="utf-8")
    recording = "\n".join(["time,ph,water", *ROWS]) + "\n"
    assert replay(recording, "--store", "pond.db", "--acts", "acts.jsonl").status == 0
    return folder


def test_what_the_store_knows_is_used_and_said_with_its_age(filled: Path, call: Any) -> None:
    said = call("dose", "raise-kh", "--to", "5dKH", "--volume", "14000L", "--at", "2026-06-11T01:00:00+02:00")
    assert said.status == 0
    assert "KH 2.50 dKH, not less than 2.00 (your test of 2026-06-09 10:00, 1 d 15 h ago, read as 3 dKH)" in said.out
    assert "(probe of 2026-06-10 23:50, 1 h 10 min ago)" in said.out
    assert "total ammonia 0.05 mg/L as N (your test of 2026-06-10 10:00" in said.out
    assert "dusk pH 8.1" in said.out
    assert "un-ionised ammonia at most" in said.out


def test_what_is_given_wins_over_the_store_and_old_ammonia_is_unknown(filled: Path, call: Any) -> None:
    words = ("--volume", "14000L", "--kh", "4 drops", "--at", "2026-06-15T08:00:00+02:00")
    said = call("dose", "raise-kh", "--to", "5dKH", *words)
    assert "KH 3.50 dKH, not less than 3.00 (given, read as 4 dKH)" in said.out
    assert "total ammonia not known" in said.out


def test_by_the_sun_it_is_not_morning_at_one(filled: Path, call: Any) -> None:
    words = ("--volume", "14000L", "--with", "vinegar", "--air", "on", "--at", "2026-06-11T01:00:00+02:00")
    said = call("dose", "lower-ph", *words)
    assert said.status == 1
    assert "not at night" in said.out
