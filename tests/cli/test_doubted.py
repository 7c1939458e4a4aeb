"""A probe that is doubted says so wherever its figures are shown, and no plan rests on it unsaid."""

from __future__ import annotations

import csv
import io
import json
from math import cos, tau
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

import pytest

from dawnline.account.account import account

CHANCE = Random(4)
ROWS = [
    f"2026-06-{day:02d}T{m // 60:02d}:{m % 60:02d}:00+02:00,"
    f"{7.8 - 0.4 * cos((m / 60 - 5) * tau / 24) + CHANCE.gauss(0, 0.01):.3f},{18.5 + CHANCE.gauss(0, 0.05):.2f}"
    for day in (6, 7, 8, 9, 10)
    for m in range(0, 1440, 10)
]
KH = {"time": "2026-06-09T10:00:00+02:00", "act": "hand-test", "kh_dkh": 3, "by": "ada"}
OFF = {"time": "2026-06-10T12:00:00+02:00", "act": "hand-test", "ph": 6.6, "by": "ada"}
BEFORE = {**OFF, "time": "2026-06-09T20:00:00+02:00"}
SOON, LATE = "2026-06-10T14:00:00+02:00", "2026-06-10T23:45:00+02:00"
RAISE = ("dose", "raise-kh", "--to", "5dKH", "--volume", "14m3", "--json")


@pytest.fixture
def fill(folder: Path, replay: Any) -> Any:
    """`fill(KH, OFF)` makes a store of five days, with these tests."""

    def made(*acts: dict[str, Any]) -> None:
        (folder / "acts.jsonl").write_text("\n".join(json.dumps(act) for act in acts), encoding="utf-8")
        recording = "\n".join(["time,ph,water", *ROWS]) + "\n"
        assert replay(recording, "--store", "pond.db", "--acts", "acts.jsonl").status == 0

    return made


def test_a_plan_says_that_its_ph_is_doubted_or_goes_by_the_test(fill: Any, call: Any) -> None:
    fill(KH, OFF)
    soon = json.loads(call(*RAISE, "--at", SOON).out)
    assert soon["values"]["ph"]["value"] == 6.6
    assert "your test" in soon["values"]["ph"]["from"]
    late = json.loads(call(*RAISE, "--at", LATE).out)
    assert "DOUBTED: drifting from the hand test" in late["values"]["ph"]["from"]
    assert late["advice"][0].startswith("The pH is by a probe that is doubted")
    asked = ("dose", "lower-ph", "--with", "vinegar", "--volume", "14m3", "--air", "on", "--part-of-day", "morning")
    acid = call(*asked, "--at", LATE)
    assert (acid.status, "the pH is by a probe that is doubted" in acid.out) == (1, True)


def test_a_plan_from_a_probe_that_is_believed_says_nothing_of_doubt(fill: Any, call: Any) -> None:
    fill(KH)
    said = call(*RAISE, "--at", LATE).out
    assert "doubt" not in said.lower()
    assert "of 3 days up to 2026-06-09" in json.loads(said)["values"]["dawn_ph"]["from"]


def test_a_plan_takes_no_dawn_from_a_day_on_which_the_probe_was_doubted(fill: Any, call: Any) -> None:
    fill(KH, BEFORE)
    assert "of 3 days up to 2026-06-08" in json.loads(call(*RAISE, "--at", LATE).out)["values"]["dawn_ph"]["from"]


def test_status_and_review_mark_every_figure_of_a_doubted_day(fill: Any, call: Any) -> None:
    fill(KH, BEFORE)
    now = call("status").out.partition("alarms:")[0].splitlines()
    assert [line.split()[0] for line in now if "doubted" in line] == ["doubted:", "tonight"]
    assert "suspect, read" in next(line for line in now if line.split()[:1] == ["ph"])
    table = {row["date"]: row["doubted"] for row in csv.DictReader(io.StringIO(call("review", "--csv", "-").out))}
    assert table == {f"2026-06-{n:02d}": str(n >= 9).lower() for n in range(6, 11)}
    days = {row["date"]: row["doubted"] for row in call("review", "--json").lines if row["event"] == "day"}
    assert days == {on: said == "true" for on, said in table.items()}


def test_the_account_rests_on_no_day_on_which_the_probe_was_doubted(
    fill: Any, call: Any, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config = folder / "dawnline.toml"
    config.write_text(config.read_text(encoding="utf-8").replace("[pond]", "[pond]\nvolume_litres = 14000"), "utf-8")
    lows: list[float] = []

    def spied(*given: Any, dawn_low: float, **more: Any) -> Any:
        lows.append(dawn_low)
        return account(*given, dawn_low=dawn_low, **more)

    monkeypatch.setattr("dawnline.queries.account_of.account", spied)
    for acts, days in (((KH,), ("07", "08", "09")), ((KH, BEFORE), ("06", "07", "08"))):
        fill(*acts)
        lows.clear()
        assert "from 1 test of KH" in call("logbook", "account", "--at", LATE).out
        found = {row["date"]: row["dawn_low"] for row in call("review", "--json").lines if row["event"] == "day"}
        assert lows[0] == pytest.approx(median(found[f"2026-06-{day}"] for day in days), abs=1e-4)
        (folder / "pond.db").unlink()
