"""`dawnline store`: what the keeper does with the file itself."""

from __future__ import annotations

import json
from collections.abc import Callable
from math import cos, tau
from pathlib import Path
from random import Random
from typing import Any

import pytest

from dawnline.outlook.ph_watch import PhWatch
from dawnline.service.resume import dated_pipeline
from dawnline.settings import load
from dawnline.store.store import Store

from ..configuration import serial

ROWS = "time,ph\n" + "".join(f"2026-06-08T{h:02d}:{m:02d}Z,7.{m % 10}\n" for h in range(24) for m in range(60))


@pytest.fixture
def filled(replay: Callable[..., Any]) -> None:
    """A store with a day in it."""
    assert replay(ROWS, "--store", "pond.db").status == 0


@pytest.mark.usefixtures("filled")
def test_a_backup_is_whole_and_can_be_put_back(folder: Path, call: Callable[..., Any]) -> None:
    assert call("store", "backup", "copy.db").status == 0
    assert call("store", "verify", "copy.db").out == "copy.db: whole\n"
    (folder / "pond.db").write_bytes(b"spoilt" * 1000)
    assert call("store", "verify").status == 1
    put = call("store", "restore", "copy.db")
    assert put.status == 0
    assert "pond.db.replaced-1" in put.out
    assert (folder / "pond.db.replaced-1").read_bytes().startswith(b"spoilt")
    assert call("store", "verify").status == 0
    assert call("readings", "--csv", "-").out.count("\n") == 1441


@pytest.mark.usefixtures("filled")
def test_a_backup_replaces_nothing(folder: Path, call: Callable[..., Any]) -> None:
    (folder / "copy.db").write_text("mine", encoding="utf-8")
    refused = call("store", "backup", "copy.db")
    assert refused.status == 1
    assert "new name" in refused.err
    assert (folder / "copy.db").read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("filled")
def test_compacting_says_what_it_gave_back(call: Callable[..., Any]) -> None:
    said = call("store", "compact")
    assert said.status == 0
    assert "MB before" in said.out


def test_without_a_store_it_says_so(call: Callable[..., Any]) -> None:
    for words in (["backup", "copy.db"], ["verify"], ["compact"]):
        said = call("store", *words)
        assert (said.status, "pond.db" in said.err) == (1, True), said


def nights() -> str:
    chance, rows = Random(5), ["time,ph"]
    for minute in range(0, 5 * 1440, 5):
        time = f"2026-06-{4 + minute // 1440:02d}T{minute // 60 % 24:02d}:{minute % 60:02d}:00+02:00"
        rows.append(f"{time},{7.6 - 0.3 * cos((minute / 60 - 5) * tau / 24) + chance.gauss(0, 0.005):.3f}")
    return "\n".join(rows) + "\n"


def test_a_probe_that_was_renamed_goes_on_with_its_calibration_and_its_nights(
    folder: Path, call: Callable[..., Any], replay: Callable[..., Any], configure: Callable[..., None]
) -> None:
    calibrated = {"time": "2026-06-05T12:00:00+02:00", "act": "calibrated", "probe": "ph", "points": [[7.0, 7.2, 20.0]]}
    (folder / "acts.jsonl").write_text(json.dumps(calibrated), encoding="utf-8")
    configure(probes=serial("ph", "ph"))
    assert replay(nights(), "--store", "pond.db", "--acts", "acts.jsonl").status == 0

    def learned(name: str) -> tuple[float, int]:
        settings = load(folder / "dawnline.toml")
        with Store.open(settings.store.path, [(each.name, each.quantity) for each in settings.probes]) as store:
            watch = dated_pipeline(settings, store, store.cursor()).watches[name]
        assert isinstance(watch, PhWatch)
        return watch.electrode.in_force.offset, len(watch.rhythm.lows)

    before = learned("ph")
    assert before == (pytest.approx(0.2), 4)
    refused = call("store", "rename", "ph", "glass")
    assert (refused.status, "no probe is called 'glass'" in refused.err) == (2, True)
    configure(probes=serial("ph", "ph") + serial("glass", "ph"))
    assert "still called 'ph'" in call("store", "rename", "ph", "glass").err
    configure(probes=serial("glass", "ph"))
    assert learned("glass") == (0.0, 0)  # what happens to whoever does not know
    assert "after `dawnline store rename ph NEW`" in call("check").out
    said = call("store", "rename", "ph", "glass")
    assert (said.status, "with 1440 readings" in said.out) == (0, True)
    assert learned("glass") == before
    days = [(row["probe"], row["dawn_low"]) for row in call("review", "--json").lines if row["event"] == "day"]
    assert {probe for probe, _ in days} == {"glass"}
    assert "no probe is called now" not in call("check").out
    assert "calibrated    slope 100.0 %, offset +0.20" in call("probes", "history", "glass").out
