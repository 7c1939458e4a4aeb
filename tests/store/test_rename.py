"""A probe of the record that goes on under another name."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.errors import StoreError
from dawnline.event import Act, Day, Forecast, Moved, Rainfall, Transition
from dawnline.reading import Flag, Reading, Reason
from dawnline.rollup import STEP_MS
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.record import ActRow
from dawnline.store.rename import rename
from dawnline.store.state import StoredCheckpoint
from dawnline.store.store import Store

BEGIN = 1_780_000_200_000 // STEP_MS * STEP_MS
END = BEGIN + 3 * STEP_MS + 5 * MINUTE_MS  # of the old name, within a quarter of an hour
BOTH = [("ph", "ph"), ("water", "temperature")]


def readings(probe: str, start: int, end: int) -> list[Reading]:
    flags = {True: Flag.SUSPECT, False: Flag.GOOD}
    return [
        Reading(probe, at, 7.0 + at // MINUTE_MS % 7 / 100, at, flags[at % 300_000 == 0], Reason.NONE)
        for at in range(start, end, MINUTE_MS)
    ]


def day(probe: str, date: str, coverage: float) -> Day:
    return Day(date, probe, 7.0, BEGIN, None, None, None, None, 0.0, 0.0, coverage, False)


def batch(probe: str, start: int, end: int) -> Batch:
    """All that a record may have of one probe."""
    acts = [
        Act(f"a {probe}", start, "cleaning", {"probe": probe, "note": f"{probe} was dirty"}),
        Act(f"b {probe}", start, "correct", {"entry": "a", "kind": "cleaning", "at": 1, "body": {"probe": probe}}),
        Act(f"c {probe}", start, "hand-test", {"ph": 7.1}),
    ]
    memory = {"memory": [["ph-low", probe, {}], ["no-data", None, {}]], "telling": {"items": [{"probe": probe}]}}
    return Batch(
        readings(probe, start, end),
        days=[day(probe, "2026-05-28", 0.9)],
        forecasts=[Forecast("tonight", start, {"probe": probe, "low": 6.9}, {"of": [{"probe": probe}]})],
        rain=[Rainfall(probe, start, start + 1, 0.2)],
        transitions=[Transition(1, start, start, "ph-low", "raised", "high", probe, 6.4, f"{probe} is low")],
        moves=[Moved(start, "ph-low", probe, 1, "occur", "normal", "unacknowledged", "high", "", "")],
        acts=[ActRow(act, True, "", start) for act in acts],
        alarm_memory=json.dumps(memory),
        checkpoint=StoredCheckpoint(1, end, "{}"),
    )


def everything(path: Path, probe: str) -> dict[str, Any]:
    """What the record says of this probe, whatever it is called."""
    with Reader.open(path) as reader:
        days = [each for each in reader.days("2026-01-01", "2027-01-01") if each.probe == probe]
        found = {
            "readings": [tuple(each)[1:] for each in reader.readings(probe, 0, 1 << 60)],
            "rollups": reader.rollups(probe, BEGIN, BEGIN + 20 * STEP_MS),
            "days": [(each.date, each.coverage) for each in days],
            "forecasts": [each.body for each in reader.forecasts("tonight", 0, 1 << 60)],
            "rain": [each.mm for each in reader.rain(probe, 0, 1 << 60)],
            "transitions": [each.text for each in reader.transitions(0, 1 << 60) if each.probe == probe],
            "moves": [each.episode for each in reader.moves(0, 1 << 60) if each.probe == probe],
            "acts": [dict(row.act.body) for row in reader.acts()],
            "memory": json.loads(reader.alarm_memory() or "null"),
        }
    text = json.dumps(found, default=dict)
    for before in (": ", ", "):  # as a value, and no key
        text = text.replace(f'{before}"{probe}"', f'{before}"?"')
    named: dict[str, Any] = json.loads(text)
    return named


def test_all_that_is_known_of_it_goes_on_under_the_new_name_and_no_value_changes(tmp_path: Path) -> None:
    path = tmp_path / "pond.db"
    with Store.open(path, BOTH) as store:
        store.commit(batch("ph", BEGIN, END))
    before = everything(path, "ph")
    assert rename(path, "ph", "glass") == len(before["readings"]) > 40
    assert everything(path, "glass") == before
    with Reader.open(path) as reader:
        assert reader.probes() == {"glass": "ph", "water": "temperature"}
        assert reader.checkpoint() is None
        assert reader.acts()[0].act.body["note"] == "ph was dirty"  # words stay as somebody wrote them


def test_what_it_said_under_the_new_name_already_is_joined_to_it(tmp_path: Path) -> None:
    path, whole = tmp_path / "pond.db", tmp_path / "whole.db"
    again = END + 2 * MINUTE_MS
    end = again + 4 * STEP_MS
    with Store.open(path, BOTH) as store:
        store.commit(batch("ph", BEGIN, END))
    with Store.open(path, [("glass", "ph"), ("water", "temperature")]) as store:
        for start in range(again, end, 10 * MINUTE_MS):
            store.commit(Batch(readings("glass", start, min(start + 10 * MINUTE_MS, end))))
        store.commit(Batch(days=[day("glass", "2026-05-28", 0.2), day("glass", "2026-05-29", 0.8)]))
    with Store.open(whole, [("glass", "ph")]) as store:
        store.commit(Batch(readings("glass", BEGIN, END)))
        store.commit(Batch(readings("glass", again, end)))
    rename(path, "ph", "glass")
    joined, one = everything(path, "glass"), everything(whole, "glass")
    assert joined["readings"] == one["readings"]
    assert joined["rollups"] == one["rollups"]
    assert joined["days"] == [["2026-05-28", 0.9], ["2026-05-29", 0.8]]
    with Store.open(path, [("glass", "ph")]) as store:
        store.commit(Batch(readings("glass", end, end + STEP_MS)))
    assert len(everything(path, "glass")["readings"]) == len(one["readings"]) + 15


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("moon", "glass", r"no probe 'moon' in it, only: ph, water"),
        ("ph", "water", "they are two probes"),
        ("ph", "deep", "readings from before those of ph end: they are two probes"),
    ],
)
def test_what_cannot_be_one_probe_is_refused_and_nothing_changes(tmp_path: Path, old: str, new: str, says: str) -> None:
    path = tmp_path / "pond.db"
    with Store.open(path, [*BOTH, ("deep", "ph")]) as store:
        store.commit(batch("ph", BEGIN, END))
        store.commit(Batch(readings("deep", END - 3 * MINUTE_MS, END + STEP_MS)))
        with pytest.raises(StoreError, match="another dawnline process"):
            rename(path, "ph", "glass")
    before = everything(path, "ph")
    with pytest.raises(StoreError, match=says):
        rename(path, old, new)
    assert everything(path, "ph") == before
