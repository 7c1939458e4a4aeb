"""What the present says of how far a value is to be believed, and of what is usual at this hour."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Event
from dawnline.reading import Sample
from dawnline.service.fold import make_pipeline
from dawnline.service.snapshot import snapshot
from dawnline.settings import Settings, load

from ..configuration import POND, serial
from ..pond import fold

DAYS = 5
BEGIN = round(datetime.fromisoformat("2026-06-01T00:00+02:00").timestamp() * 1000)
END = BEGIN + DAYS * DAY_MS + 11 * HOUR_MS


def ordinary() -> Iterator[Sample]:
    """7.0 at five, 7.6 at five in the afternoon: 0.05 an hour up or down; every ten minutes a thousandth beside it."""
    for at in range(BEGIN, END, 2 * MINUTE_MS):
        hour = ((at - BEGIN) / HOUR_MS - 5) % 24
        value = 7.0 + 0.05 * (hour if hour <= 12 else 24 - hour) + 0.001 * (at // MINUTE_MS % 10)
        yield Sample("ph", at, round(value, 3), at)


def seen(folder: Path, *acts: Act, until: int = END) -> dict[str, Any]:
    path = folder / "dawnline.toml"
    path.write_text(POND + serial("ph", "ph", "/dev/no-such-port"), encoding="utf-8")
    settings: Settings = load(path)
    pipeline = make_pipeline(settings)
    events: list[Event] = sorted([*ordinary(), *acts], key=lambda event: event.at)
    fold(pipeline, events)
    pipeline.advance(until)
    found: dict[str, Any] = snapshot(pipeline, settings)["probes"]["ph"]
    return found


def test_what_is_usual_at_this_hour(tmp_path: Path) -> None:
    usual = seen(tmp_path)["usual_now"]
    assert usual["ph"] == pytest.approx(7.3, abs=0.06)
    assert usual["fall_60_min"] == pytest.approx(-0.05, abs=0.02)
    assert usual["fall_15_min"] == pytest.approx(-0.0125, abs=0.01)


def test_nothing_is_usual_for_a_probe_that_is_silent(tmp_path: Path) -> None:
    assert seen(tmp_path, until=END + HOUR_MS)["usual_now"] is None


def test_a_probe_is_doubted_while_the_alarm_stands_and_no_longer(tmp_path: Path) -> None:
    assert seen(tmp_path)["doubt"] is None
    off = [Act(f"test {hours}", END - hours * HOUR_MS, "hand-test", {"ph": 6.2}) for hours in (6, 1)]
    doubted = seen(tmp_path, *off)
    assert (doubted["flag"], doubted["kept_flag"]) == ("suspect", "good")
    assert doubted["doubt"].startswith("drifting from the hand test: it shows")
    out = Act("out", END - MINUTE_MS, "out-of-service", {"probe": "ph", "for": "30m"})
    away = seen(tmp_path, *off, out)
    assert (away["doubt"], away["flag"], away["kept_flag"]) == (None, "not evaluated", "good")


def test_the_last_value_of_a_silent_probe_is_not_the_present_one(tmp_path: Path) -> None:
    spoke = seen(tmp_path)
    assert (spoke["flag"], spoke["silent"]) == ("good", None)
    silent = seen(tmp_path, until=END + HOUR_MS)
    assert (silent["flag"], silent["kept_flag"]) == ("missing", "good")
    assert silent["silent"].startswith("nothing received for")
