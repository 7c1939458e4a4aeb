"""How a review says days, times and changes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, tzinfo

from dawnline.errors import InputError
from dawnline.event import Act
from dawnline.logbook.acts import read
from dawnline.logbook.words import line, printable
from dawnline.typed.quantity import Units


def than(change: float, least: float, less: str, more: str, same: str) -> str:
    """A change against earlier days.

    >>> than(-0.123, 0.05, "lower", "higher", "about the same as"), than(0.01, 0.05, "", "", "about the same as")
    ('0.12 lower than', 'about the same as')
    """
    return same if abs(change) < least else f"{abs(change):.2f} {less if change < 0 else more} than"


def earlier(days: int) -> str:
    """As many days before these.

    >>> earlier(1), earlier(7), earlier(10)
    ('the day before', 'the week before', 'the 10 days before')
    """
    return {1: "the day before", 7: "the week before"}.get(days, f"the {days} days before")


def count(number: int, what: str) -> str:
    """A number of things.

    >>> count(1, "alarm"), count(3, "alarm")
    ('1 alarm', '3 alarms')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"


def listed(parts: Sequence[str]) -> str:
    """Parts of a sentence in a row.

    >>> listed(["rain"]), listed(["rain", "feed", "warmth"])
    ('rain', 'rain, feed and warmth')
    """
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def on_day(day: str) -> str:
    """A date in a sentence.

    >>> on_day("2026-06-09")
    'Tuesday 9 June'
    """
    on = date.fromisoformat(day)
    return f"{on:%A} {on.day} {on:%B}"


def clock(at: int, zone: tzinfo) -> str:
    """A time of day."""
    return f"{datetime.fromtimestamp(at / 1000, zone):%H:%M}"


def moment(at: int, zone: tzinfo) -> str:
    """A time with its day, short."""
    when = datetime.fromtimestamp(at / 1000, zone)
    return f"{when:%a} {when.day} {when:%b} {when:%H:%M}"


def act_name(kind: str) -> str:
    """A kind of entry as people read it.

    >>> act_name("water-change")
    'Water change'
    """
    return kind.replace("-", " ").capitalize()


def entry_line(act: Act, units: Units) -> str:
    """An entry of the logbook in a line; one of another version of the program as it was stored."""
    try:
        return act_name(act.kind) + line(act.kind, read(act.kind, act.body), units).removeprefix(act.kind)
    except InputError:
        return printable(f"{act.kind}: {', '.join(f'{key} {value}' for key, value in act.body.items())}")
