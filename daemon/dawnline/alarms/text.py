"""What a notice says, from the catalogue's texts and the episode's facts."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Final

from dawnline.alarms.catalogue import Alarm, Catalogue
from dawnline.duration import show_duration
from dawnline.event import Transition

_CHANGED: Final = ("escalated", "unshelved", "released")  # the word of that name says what is new


def subject(catalogue: Catalogue, transition: Transition, pond: str) -> str:
    """One line for a lock screen: pond, what, how urgent."""
    words, title = catalogue.words, catalogue[transition.alarm].title
    if transition.change == "returned":
        return words["subject_over"].format(pond=pond, title=title)
    return words["subject"].format(pond=pond, title=title, priority=words[transition.priority])


def body(catalogue: Catalogue, transition: Transition, zone: tzinfo) -> str:
    """The whole text of a notice."""
    words, alarm = catalogue.words, catalogue[transition.alarm]
    if transition.change == "returned":
        return _over(catalogue, alarm, transition, zone)
    since, at = clock(catalogue, transition.since, zone), clock(catalogue, transition.at, zone)
    lines = [
        f"{alarm.title}: {transition.text}.",
        words["since_probe" if transition.probe else "since"].format(since=since, at=at, probe=transition.probe),
    ]
    if transition.change in _CHANGED:
        lines.append(words[transition.change])
    lines += ["", *response(catalogue, alarm, transition.probe)]
    if transition.id:  # a test message has none
        lines += ["", words["acknowledge"].format(id=transition.id)]
    return "\n".join(lines)


def response(catalogue: Catalogue, alarm: Alarm, probe: str | None) -> list[str]:
    """What the alarm means and what to do, in lines: in notices and wherever an alarm is explained."""
    words, alarm = catalogue.words, catalogue.about(alarm, probe)
    lines = [
        alarm.meaning,
        words["time"].format(time=alarm.time),
        words["sure"].format(sure=alarm.sure),
        "",
        words["steps"],
        *(f"  {n}. {step}" for n, step in enumerate(alarm.steps, 1)),
        words["cautions"],
        *(f"  - {caution}" for caution in alarm.cautions),
        "",
        words["cause"].format(cause=alarm.cause),
        words["consequence"].format(consequence=alarm.consequence),
    ]
    return [line.replace("{probe}", probe or "NAME") for line in lines]


def _over(catalogue: Catalogue, alarm: Alarm, transition: Transition, zone: tzinfo) -> str:
    words = catalogue.words
    since, at = clock(catalogue, transition.since, zone), clock(catalogue, transition.at, zone)
    lasted = show_duration(transition.at - transition.since)
    return "\n".join(
        (
            words["over"].format(title=alarm.title, evidence=transition.text),
            words["lasted"].format(lasted=lasted, since=since, at=at),
            words["over_end"].format(id=transition.id),
        )
    )


def clock(catalogue: Catalogue, at: int, zone: tzinfo) -> str:
    """A time for people, in the pond's zone."""
    moment = datetime.fromtimestamp(at / 1000, zone)
    day, month = catalogue.days[moment.weekday()], catalogue.months[moment.month - 1]
    return catalogue.words["clock"].format(day=day, date=f"{moment:%d}", month=month, time=f"{moment:%H:%M}")
