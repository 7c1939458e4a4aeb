"""The pond that most tests of the fold begin with, and a row of events folded."""

from __future__ import annotations

from collections.abc import Iterable

from dawnline.event import Effect, Event
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline

POND = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")
MEASURED = POND.model_copy(update={"volume_litres": 14_000.0, "surface_m2": 12.0})  # its volume and surface are known


def fold(pipe: Pipeline, events: Iterable[Event]) -> list[Effect]:
    """All that follows from these events, in their order."""
    return [effect for event in events for effect in pipe.step(event)]
