"""How the page says things: short, for a thumb and a tired eye."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, Final, NamedTuple

from dawnline.alarms.states import VISIBLE
from dawnline.duration import show_duration
from dawnline.electrode.calibration import IDEAL
from dawnline.event import PRIORITIES
from dawnline.quantity import QUANTITIES

OPEN: Final = tuple(state.value for state in VISIBLE)
LONG_AGO_S: Final = 3600  # a probe that is said to be silent may have spoken since, and a slow one lets one wait


class Verdict(NamedTuple):
    """How the pond is, at a glance. `kind` is well, look, act or blind; `probe` is whose alarm it is."""

    kind: str
    head: str
    text: str
    probe: str | None = None


def verdict(data: dict[str, Any], *, running: bool, age_s: float | None) -> Verdict:
    """The one thing to know first.

    >>> verdict({"alarms": [], "probes": {}}, running=False, age_s=None).head
    'Nobody watches'
    """
    if not running:
        since = "The service is not running." if age_s is None else f"The service last wrote {_old(age_s)} ago."
        then = f"What follows is how it was on {moment(data['time'])}." if data.get("time") else "Nothing is recorded."
        return Verdict("blind", "Nobody watches", f"{since} {then}")
    worst = worst_open(data)
    if worst is not None and worst["priority"] == "high":
        return Verdict("act", worst["title"], worst["text"], worst["probe"])
    silent = {row["probe"] for row in data["alarms"] if row["alarm"] == "no-data"}  # shelved ones, too
    if not any(_seen(probe, silent=name in silent) for name, probe in data["probes"].items()):
        return Verdict("blind", "The pH is not seen", "No pH probe gives a good reading now. Test by hand.")
    if worst is not None:
        return Verdict("look", worst["title"], worst["text"], worst["probe"])
    for row in data["alarms"]:
        if row["state"] == "shelved" and row["priority"] == "high":
            until = f" until {moment(row['until'])}" if row["until"] else ""
            return Verdict("look", f"Shelved: {row['title']}", f"{row['text']}; shelved{until}", row["probe"])
    return Verdict("well", "All is well", _night(data))


def worst_open(data: dict[str, Any]) -> dict[str, Any] | None:
    """The most urgent alarm that is open; None where none is."""
    return max((row for row in data["alarms"] if row["state"] in OPEN), key=urgency, default=None)


def urgency(row: dict[str, Any]) -> tuple[bool, int, str]:
    """By what alarms are put in order: whether open, the priority, then how new; the greatest comes first."""
    return row["state"] in OPEN, PRIORITIES.index(row["priority"]), row["since"] or ""


def _night(data: dict[str, Any]) -> str:
    for night in data.get("tonight", []):
        return f"Tonight the pH goes down to about {night['low']:.1f}, near {clock(night['at'])}."
    return "No alarm is open."


def _seen(probe: dict[str, Any], *, silent: bool) -> bool:
    """Whether a probe shows the pH now: its last reading was good in itself, and is not one of long ago.

    Of one that is doubted its alarm says more than that nothing is seen.
    """
    good = probe["quantity"] in IDEAL and probe.get("kept_flag", probe.get("flag")) == "good"
    return good and not (silent and probe["age_s"] > LONG_AGO_S)


def reading(probe: dict[str, Any]) -> str:
    """A probe's value with its unit."""
    if probe.get("value") is None:
        return "no reading yet"
    if probe["quantity"] == "electrode_mv":
        return QUANTITIES["ph"].show(probe["ph"])
    shown = QUANTITIES[probe["quantity"]].show(probe["value"])
    return f"{shown} in all" if probe.get("gauge") == "accumulation" else shown


def measured(quantity: str) -> str:
    """What a probe measures.

    >>> measured("ph"), measured("dissolved_oxygen")
    ('pH', 'dissolved oxygen')
    """
    return {"ph": "pH", "electrode_mv": "pH, by an electrode's mV"}.get(quantity, quantity.replace("_", " "))


def trust(probe: dict[str, Any], running: bool = True) -> str:
    """How far to believe it, and how old it is; of a record that has ended, when it was read."""
    if probe.get("value") is None:
        return ""
    doubt = f", doubted: {probe['doubt']}" if probe.get("doubt") else ""
    return f"{probe['flag']}, {_old(probe['age_s']) + ' old' if running else moment(probe['time'])}{doubt}"


def doubted(probe: dict[str, Any] | None) -> str:
    """What is said first beside a figure of a probe that is doubted.

    >>> doubted({"doubt": "frozen: it rests"}), doubted({"doubt": None})
    ('doubted, ', '')
    """
    return "doubted, " if probe and probe.get("doubt") else ""


def clock(time: str) -> str:
    """The time of day of an ISO 8601 time.

    >>> clock("2026-06-03T04:05:06+02:00")
    '04:05'
    """
    return f"{datetime.fromisoformat(time):%H:%M}"


def moment(time: str) -> str:
    """Day and time of day.

    >>> moment("2026-06-03T04:05:06+02:00")
    'Wed 3 Jun, 04:05'
    """
    at = datetime.fromisoformat(time)
    return f"{at:%a} {at.day} {at:%b}, {at:%H:%M}"


def sentence(text: str) -> str:
    """A text with a capital to begin with, other than what is spelt with a small letter.

    >>> sentence("nothing received"), sentence("pH 5.64, below 6"), sentence("ph: back in service")
    ('Nothing received', 'pH 5.64, below 6', 'ph: back in service')
    """
    first = text.split(" ", 1)[0].rstrip(":")
    return text if first in ("pH", "ph", "mV") else text[:1].upper() + text[1:]


def _old(seconds: float) -> str:
    return show_duration(round(max(0.0, seconds)) * 1000)


FILTERS: Final[dict[str, Callable[..., Any]]] = {
    "reading": reading, "trust": trust, "clock": clock, "moment": moment, "sentence": sentence,
    "measured": measured, "doubted": doubted,
}  # fmt: skip
