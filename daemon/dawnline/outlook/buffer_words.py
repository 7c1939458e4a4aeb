"""What the buffer line says, in words and in figures."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any, Final

from dawnline.outlook.buffer_line import Outlook
from dawnline.water.units import dkh_from_meq_l

BENDING: Final = 0.5
AMMONIA_BELOW: Final = 6.8  # common practice, no source
_TREND: Final = {
    "falling": "the buffer is being used up",
    "steady": "no loss of buffer beyond what a probe wanders by itself",
    "rising": "the buffer grows",
    "unclear": "the nights do not tell a loss of buffer from the wander of the probe",
}


def say(outlook: Outlook, limit: float, today: date, moved: int) -> str:
    """The outlook in a sentence or two; `moved` days is how far the central date has moved since yesterday."""
    if outlook.why_not:
        return f"not evaluated: {outlook.why_not}"
    if outlook.trend == "falling" and outlook.bends > BENDING:
        return "the dawn low falls, but ever more slowly, as where shell gives buffer: no date"
    if outlook.trend != "falling":
        return _TREND[outlook.trend]
    parts = [_TREND["falling"], *_when(outlook, limit, today)]
    if outlook.fitted and outlook.fitted[-1] < AMMONIA_BELOW:
        parts.append(f"below pH {AMMONIA_BELOW:g} the filter slows down and the fall may flatten: test ammonia")
    if moved:
        parts.append(
            f"that is {abs(moved)} days {'later' if moved > 0 else 'earlier'} than the last forecast had it: "
            "check the probe in a buffer solution and test KH"
        )
    return "; ".join(parts)


def caveat(outlook: Outlook, probe: str, doubt: str | None) -> str:
    """What speaks against the probe that the line rests on, where it says that the buffer is being used up."""
    if doubt is None or outlook.why_not or outlook.trend != "falling":
        return ""
    return f"; but {probe} is {doubt}, and a probe that drifts down looks the same: test KH before you believe it"


def _when(outlook: Outlook, limit: float, today: date) -> Iterator[str]:
    """When the limit is reached; first that it was, in a night that does not fit the line."""
    low = outlook.last_low
    below = outlook.last_odd and low is not None and low < limit
    if below:
        yield f"the last night went down to {low:.2f}, below {limit:g}; it does not fit the nights before it"
    yield ("by those, " if below else "") + _range(outlook, limit, today)
    if outlook.alkalinity is not None:
        yield f"about {dkh_from_meq_l(outlook.alkalinity):.1f} dKH ({outlook.alkalinity:.2f} meq/L) are left"
    if outlook.last_odd and not below:
        yield "the last night does not fit and is left out"


def _range(outlook: Outlook, limit: float, today: date) -> str:
    early, late = outlook.earliest, outlook.latest
    if early is None:
        return "no date yet"
    if outlook.central == 0:
        return f"the dawn low is below {limit:g} already"
    if late is None:
        return f"the dawn low may fall below {limit:g} from {_day(today, early, near=False)} on, no later bound yet"
    near = late < 7  # a name alone is plain
    if early == late:
        return f"the dawn low is likely to fall below {limit:g} on {_day(today, early, near=near)}"
    first, last = (_day(today, days, near=near) for days in (early, late))
    return f"the dawn low is likely to fall below {limit:g} {first} to {last}"


def _day(today: date, days: int, *, near: bool) -> str:
    on = today + timedelta(days=days)
    return f"{on:%A}" if near else f"{on:%A} {on.day} {on:%B}"


def figures(outlook: Outlook) -> dict[str, Any]:
    """The fitted line in figures, for `status --json` and the page."""
    alkalinity = outlook.alkalinity
    return {
        "used_a_day_percent": None if outlook.a_day is None else round(100.0 * outlook.a_day, 1),
        "alkalinity_meq_l": None if alkalinity is None else round(alkalinity, 3),
        "kh_dkh": None if alkalinity is None else round(dkh_from_meq_l(alkalinity), 2),
        "bends_percent": round(100.0 * outlook.bends),
        "steps": [(odd.at, "step" if odd.stepped else "odd night") for odd in outlook.oddities],
        "doubt": None
        if outlook.why_not or outlook.trend != "falling"
        else "more feed or more fish by the day, or a probe that drifts down, look the same: see the logbook",
    }


def status_line(latest: dict[str, Any]) -> str:
    """The latest forecast in a line, for people."""
    central = latest.get("reaches_low_on")
    when = "" if central is None else f" (likeliest {datetime.fromisoformat(central):%a %d %b})"
    return f"{latest['text']}{when}"
