"""Runs the stories of this folder; README.md says how they are written."""

from __future__ import annotations

import tomllib
from datetime import datetime
from itertools import pairwise
from math import log10
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.settings import AlarmSettings
from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, parse_duration
from dawnline.event import Act, Event, Transition, Verdict
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

FOLDER = Path(__file__).parent
BEGIN = round(datetime(2026, 6, 8, tzinfo=ZoneInfo("Europe/Berlin")).timestamp() * 1000)
POND = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")


KEYS = {"interval", "days_before", "ph", "acts", "alarms", "expect", "tolerance", "any_order", "buffer_gone"}


def moment(text: str) -> int:
    """Time of a story in ms."""
    parts = [int(part) for part in text.split(":")]
    return BEGIN + sum(n * unit for n, unit in zip(parts, (HOUR_MS, MINUTE_MS, 1000), strict=False))


def wave(at: int) -> float:
    """The ordinary pond: 7.0 at five in the morning, 7.6 at five in the afternoon."""
    hour = ((at - BEGIN) / HOUR_MS - 5) % 24
    return 7.0 + 0.6 * (hour if hour <= 12 else 24 - hour) / 12


def sunk(at: int, story: dict[str, Any]) -> float:
    """How far the level has sunk: alkalinity runs straight from all at the first day to nothing at `buffer_gone`."""
    if "buffer_gone" not in story:
        return 0.0
    first = BEGIN - story.get("days_before", 0) * DAY_MS
    return log10(max(1e-3, 1 - (at - first) / (moment(story["buffer_gone"]) - first)))


def series(story: dict[str, Any]) -> list[Sample]:
    """The probe's samples."""
    step = parse_duration(story["interval"])
    found = [
        (at, wave(at) + sunk(at, story)) for at in range(BEGIN - story.get("days_before", 0) * DAY_MS, BEGIN, step)
    ]
    for (start, first), (end, last) in pairwise([(moment(t), v) for t, v in story["ph"]]):
        if first == "-":
            continue
        for at in range(start, end, step):
            if first == "wave":
                value = (
                    wave(at) if last == "wave" else wave(start) + (last - wave(start)) * (at - start) / (end - start)
                )
            else:
                value = first if last in ("-", "wave") else first + (last - first) * (at - start) / (end - start)
            found.append((at, value + sunk(at, story)))
    return [Sample("ph", at, round(value, 3), at) for at, value in found]


def told(story: dict[str, Any]) -> list[tuple[int, str, str, str]]:
    """Every change of an alarm: minute of the story, alarm, change, priority."""
    events: list[Event] = list(series(story))
    for number, act in enumerate(story.get("acts", [])):
        body = {key: value for key, value in act.items() if key not in ("time", "act")}
        events.append(Act(f"act-{number}", moment(act["time"]), act["act"], body, "ada"))
    events.sort(key=lambda event: event.at)
    alarms = {name: AlarmSettings.model_validate(mine) for name, mine in story.get("alarms", {}).items()}
    found: list[tuple[int, str, str, str]] = []
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None)], None, alarms)
    for event in events:
        for effect in pipe.step(event):
            if isinstance(effect, Transition):
                found.append(((effect.at - BEGIN) // MINUTE_MS, effect.alarm, effect.change, effect.priority))
            assert not isinstance(effect, Verdict) or effect.accepted or "acknowledge" in effect.act.kind, effect
    return found


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_story(path: Path) -> None:
    story = tomllib.loads(path.read_text(encoding="utf-8"))
    assert set(story) <= KEYS
    expected = [((moment(t) - BEGIN) // MINUTE_MS, *rest) for t, *rest in story["expect"]]
    found = told(story)
    if story.get("any_order"):
        expected, found = sorted(expected, key=lambda r: r[1:]), sorted(found, key=lambda r: r[1:])
    assert [row[1:] for row in found] == [tuple(row[1:]) for row in expected], found
    for row, wanted in zip(found, expected, strict=True):
        assert abs(row[0] - wanted[0]) <= story.get("tolerance", 2), (row, wanted)


def test_the_ordinary_low_pond_is_told_with_less_urgency() -> None:
    """Where 6.5 is this pond's ordinary dawn, `ph-low` is of medium priority (learned)."""
    pipe, found = Pipeline(shipped(), POND, [("ph", "ph", None, None)]), []
    for at in range(BEGIN, BEGIN + 8 * DAY_MS, MINUTE_MS):
        value = round(wave(at) - 0.6, 3)
        found += [e for e in pipe.step(Sample("ph", at, value, at)) if isinstance(e, Transition)]
    raised = [e.priority for e in found if e.alarm == "ph-low" and e.change == "raised"]
    assert raised[0] == "high"
    assert raised[-1] == "medium"
