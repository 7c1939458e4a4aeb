"""What a notice says, from the catalogue's data and the episode's facts."""

from __future__ import annotations

from datetime import datetime, tzinfo

from dawnline.alarms.catalogue import Alarm
from dawnline.duration import show_duration
from dawnline.event import Change, Transition


def subject(alarm: Alarm, transition: Transition, pond: str) -> str:
    """One line for a lock screen: pond, what, which probe, how urgent."""
    if transition.change == "returned":
        return f"{pond}: over: {alarm.title}"
    return f"{pond}: {alarm.title} ({transition.priority} priority)"


def body(alarm: Alarm, transition: Transition, zone: tzinfo) -> str:
    """The whole text of a notice."""
    if transition.change == "returned":
        return _over(alarm, transition, zone)
    lines = [
        f"{alarm.title}: {transition.text}.",
        f"Since {_clock(transition.since, zone)}; decided {_clock(transition.at, zone)}"
        + (f"; probe {transition.probe}." if transition.probe else "."),
        _CHANGED.get(transition.change, ""),
        "",
        alarm.meaning,
        f"How sure: {alarm.sure}",
        "",
        "First steps:",
        *(f"  {n}. {step}" for n, step in enumerate(alarm.steps, 1)),
    ]
    if alarm.cautions:
        lines += ["Leave alone:", *(f"  - {caution}" for caution in alarm.cautions)]
    if transition.id:  # a test message has none
        lines += [
            "",
            f"This is alarm {transition.id}. To say you have it: dawnline alarms acknowledge {transition.id}",
        ]
    return "\n".join(line for i, line in enumerate(lines) if line or i != 2)


_CHANGED: dict[Change, str] = {
    "escalated": "It has become more urgent than when it was raised.",
    "unshelved": "It was shelved until now and is still there.",
    "released": "It was there when it was suppressed, and nothing was judged meanwhile; from now on it is again.",
}


def _over(alarm: Alarm, transition: Transition, zone: tzinfo) -> str:
    lasted = show_duration(transition.at - transition.since)
    return (
        f"{alarm.title}: this is over, {transition.text}.\n"
        f"It lasted {lasted}, from {_clock(transition.since, zone)} to {_clock(transition.at, zone)}.\n"
        f"Alarm {transition.id}. This says nothing of other alarms: `dawnline alarms list` shows which still stand. "
        "Look at the fish once more all the same, and note what you did in the logbook."
    )


def _clock(at: int, zone: tzinfo) -> str:
    return datetime.fromtimestamp(at / 1000, zone).strftime("%a %d %b %H:%M")
