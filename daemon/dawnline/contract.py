"""The interface contract's JSON objects, made from the pipeline's effects here and nowhere else."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo
from typing import Any

from dawnline.duration import iso
from dawnline.event import Day, Effect, Forecast, Problem, Rainfall, Transition


def rounded(value: float | None, digits: int = 4) -> float | None:
    """A figure short enough to read; None stays None."""
    return None if value is None else round(value, digits)


def day_line(day: Day, zone: tzinfo) -> dict[str, Any]:
    """A `day` object."""
    return {
        "event": "day",
        "date": day.date,
        "probe": day.probe,
        "dawn_low": rounded(day.dawn_low),
        "dawn_low_at": None if day.dawn_low_at is None else iso(day.dawn_low_at, zone),
        "dusk_high": rounded(day.dusk_high),
        "dusk_high_at": None if day.dusk_high_at is None else iso(day.dusk_high_at, zone),
        "swing": rounded(day.swing),
        "mean": rounded(day.mean),
        "minutes_below": rounded(day.minutes_below, 2),
        "minutes_above": rounded(day.minutes_above, 2),
        "coverage": rounded(day.coverage),
        "partial": day.partial,
    }


def alarm_line(transition: Transition, zone: tzinfo) -> dict[str, Any]:
    """An `alarm` object."""
    return {
        "event": "alarm",
        "id": transition.id,
        "time": iso(transition.at, zone),
        "since": iso(transition.since, zone),
        "alarm": transition.alarm,
        "change": transition.change,
        "priority": transition.priority,
        "probe": transition.probe,
        "value": rounded(transition.value),
        "text": transition.text,
    }


def line(effect: Effect, zone: tzinfo) -> dict[str, Any] | None:
    """The object for one effect, or None for those the contract does not print."""
    if isinstance(effect, Day):
        return day_line(effect, zone)
    if isinstance(effect, Transition):
        return alarm_line(effect, zone)
    if isinstance(effect, Forecast):
        return {"event": "forecast", "about": effect.about, "time": iso(effect.at, zone), **effect.body}
    if isinstance(effect, Rainfall):
        times = {"time": iso(effect.end, zone), "since": iso(effect.start, zone)}
        return {"event": "rain", **times, "probe": effect.probe, "mm": rounded(effect.mm)}
    if isinstance(effect, Problem):
        return {"event": "problem", "row": None, "text": effect.text}
    return None


def held_against(probe: Mapping[str, Any]) -> list[str]:
    """What is held against the value of a probe, as `status --json` has it, in a word each; nothing of a good one.

    >>> held_against({"flag": "suspect", "doubt": "frozen"}), held_against({"flag": "good", "doubt": None})
    (['suspect', 'doubted'], [])
    """
    flag, doubt = probe.get("flag", "good"), probe.get("doubt")
    return ([] if flag == "good" else [flag]) + (["doubted"] if doubt else [])
