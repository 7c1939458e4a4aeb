"""Runs the stories of this folder; README.md says how they are written.

    .venv/bin/python tests/weeks/test_weeks.py NAME

prints what is said in one story, for its author to judge.
"""

from __future__ import annotations

import sys
import tomllib
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import log10
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.settings import AlarmSettings
from dawnline.catalogue_file import shipped
from dawnline.delivery.settings import PersonSettings
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, parse_duration
from dawnline.event import Act, Delivered, Effect, Message, Transition, Verdict
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

FOLDER = Path(__file__).parent
BEGIN = round(datetime(2026, 6, 8, tzinfo=ZoneInfo("Europe/Berlin")).timestamp() * 1000)
POND = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")


KEYS = {
    "interval", "days_before", "ph", "series", "limits", "acts", "alarms", "people", "delivery", "expect", "told",
    "tolerance", "any_order", "buffer_gone",
}  # fmt: skip
ADA = {"name": "Ada", "addresses": ["console:"]}


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
    """The samples of every probe."""
    found = _ph(story)
    for name, each in story.get("series", {}).items():
        found += _straight(name, each["points"], parse_duration(each.get("interval", story["interval"])))
    return found


def _ph(story: dict[str, Any]) -> list[Sample]:
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


def _straight(name: str, points: list[tuple[str, Any]], step: int) -> list[Sample]:
    """Straight from point to point, with a tremble of 0.02, since no instrument reads the same for hours."""
    found = []
    for (start, first), (end, last) in pairwise([(moment(t), v) for t, v in points]):
        for at in range(start, end, step) if first != "-" else ():
            value = (
                first
                + ((first if last == "-" else last) - first) * (at - start) / (end - start)
                + 0.02 * (at // step % 2)
            )
            found.append(Sample(name, at, round(value, 3), at))
    return found


def effects_of(story: dict[str, Any]) -> list[Effect]:
    """All that follows from the story."""
    events: list[Any] = series(story)
    for number, act in enumerate(story.get("acts", [])):
        body = {key: value for key, value in act.items() if key not in ("time", "act", "by")}
        events.append(Act(f"act-{number}", moment(act["time"]), act["act"], body, act.get("by", "ada")))
    events += [Ending(moment(time), person, outcome) for time, person, outcome in story.get("delivery", [])]
    events.sort(key=lambda event: event.at)
    alarms = {name: AlarmSettings.model_validate(mine) for name, mine in story.get("alarms", {}).items()}
    people = [PersonSettings.model_validate(each).in_force(POND.zone) for each in story.get("people", [ADA])]
    probes = [("ph", "ph", None, None)]
    probes += [(name, each["quantity"], None, None) for name, each in story.get("series", {}).items()]
    limits = LimitSettings.model_validate(story.get("limits", {}))
    pipe, found = Pipeline(shipped(), POND, probes, limits, alarms, people=people), list[Effect]()
    for event in events:
        for each in event.of(found) if isinstance(event, Ending) else [event]:
            found += pipe.step(each)
    return found


@dataclass(frozen=True, slots=True)
class Ending:
    """How the delivery of a person's last message ended, at each of their addresses."""

    at: int
    person: str
    outcome: Any

    def of(self, effects: list[Effect]) -> list[Delivered]:
        last = [each for each in effects if isinstance(each, Message) and each.person == self.person][-1]
        return [Delivered(f"{last.key}/{address}", self.at, self.outcome, "no route") for address in last.addresses]


def changes(effects: list[Effect]) -> list[tuple[int, str, str, str]]:
    """Every change of an alarm: minute of the story, alarm, change, priority."""
    return [(_minute(e.at), e.alarm, e.change, e.priority) for e in effects if isinstance(e, Transition)]


def messages(effects: list[Effect]) -> list[tuple[int, str, str, str]]:
    """Every message: minute of the story, person, reason, priority."""
    return [(_minute(e.at), e.person, e.why, e.priority) for e in effects if isinstance(e, Message)]


def _minute(at: int) -> int:
    return (at - BEGIN) // MINUTE_MS


def agrees(found: list[tuple[int, str, str, str]], story: dict[str, Any], key: str) -> None:
    """What was found is what the story expects under `key`, each within its tolerance."""
    expected = [(_minute(moment(t)), *rest) for t, *rest in story[key]]
    if story.get("any_order"):
        expected, found = sorted(expected, key=lambda r: r[1:]), sorted(found, key=lambda r: r[1:])
    assert [row[1:] for row in found] == [tuple(row[1:]) for row in expected], found
    for row, wanted in zip(found, expected, strict=True):
        assert abs(row[0] - wanted[0]) <= story.get("tolerance", 2), (row, wanted)


def read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_story(path: Path) -> None:
    story = read(path)
    assert set(story) <= KEYS
    effects = effects_of(story)
    for effect in effects:
        assert not isinstance(effect, Verdict) or effect.accepted or "acknowledge" in effect.act.kind, effect
    agrees(changes(effects), story, "expect")
    agrees(messages(effects), story, "told")


def test_the_ordinary_low_pond_is_told_with_less_urgency() -> None:
    """Where 6.5 is this pond's ordinary dawn, `ph-low` is of medium priority (learned)."""
    pipe, found = Pipeline(shipped(), POND, [("ph", "ph", None, None)]), []
    for at in range(BEGIN, BEGIN + 8 * DAY_MS, MINUTE_MS):
        value = round(wave(at) - 0.6, 3)
        found += [e for e in pipe.step(Sample("ph", at, value, at)) if isinstance(e, Transition)]
    raised = [e.priority for e in found if e.alarm == "ph-low" and e.change == "raised"]
    assert raised[0] == "high"
    assert raised[-1] == "medium"


def shown(rows: list[tuple[int, str, str, str]]) -> str:
    """Rows as a story has them."""
    return "\n".join(f'    ["{at // 60:02}:{at % 60:02}", "{a}", "{b}", "{c}"],' for at, a, b, c in rows)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        everything = effects_of(read(FOLDER / f"{name}.toml"))
        print(f"expect = [\n{shown(changes(everything))}\n]\ntold = [\n{shown(messages(everything))}\n]")
