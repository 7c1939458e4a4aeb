"""The first page of many ponds: how each of them is, those that need somebody first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from dawnline.contract import held_against
from dawnline.electrode.calibration import IDEAL
from dawnline.page.ask import Page
from dawnline.page.pond import Pond
from dawnline.page.words import reading, trust, verdict, worst_open

ORDER: Final = ("act", "blind", "look", "well", "locked")


class Row(NamedTuple):
    """One pond. `kind` is that of its verdict, or locked where whoever looks has not signed in there.

    `values` are a number with its unit each, the pH first; `since` is an ISO 8601 time or "".
    """

    name: str
    href: str
    kind: str
    head: str
    since: str = ""
    values: tuple[str, ...] = ()
    trust: str = ""


def page(template: str, ponds: Sequence[tuple[Pond, bool]]) -> Page:
    """All of them; of one that is not to be seen by whoever looks, its name."""
    rows = sorted((_row(pond, seen) for pond, seen in ponds), key=_place)
    seen = [row for row in rows if row.kind != "locked"]
    unwell = [row for row in seen if row.kind != "well"]
    if not seen:
        head = f"{len(rows)} ponds"
    elif not unwell:
        head = "All is well" if len(seen) == len(rows) else f"All is well at {len(seen)} of {len(rows)}"
    else:
        head = f"{len(unwell)} of {len(seen)} need a look"
    return Page(template, {"head": head, "rows": rows})


def _place(row: Row) -> tuple[int, str]:
    return ORDER.index(row.kind), row.name.casefold()


def _row(pond: Pond, seen: bool) -> Row:
    href = f"{pond.base}/"
    if not seen:
        return Row(pond.name, href, "locked", "Sign in to see it")
    present = pond.doors.glance()
    if present is None:
        return Row(pond.name, href, "blind", "Nobody watches")
    data = present.data
    how = verdict(data, running=present.running, age_s=present.age_s)
    worst = worst_open(data) or {}
    since = worst.get("since") or "" if present.running else _ago(pond, present.age_s or 0.0)
    shown = sorted(data["probes"].values(), key=_not_ph)
    known = [probe for probe in shown if probe.get("value") is not None]
    values = (*(reading(probe) for probe in known[:1]), *(_beside(probe) for probe in known[1:]))
    head = f"{how.head} ({how.probe})" if how.probe and len(shown) > 1 else how.head
    return Row(pond.name, href, how.kind, head, since, values, _trust(shown, running=present.running))


def _not_ph(probe: dict[str, Any]) -> bool:
    return probe["quantity"] not in IDEAL


def _beside(probe: dict[str, Any]) -> str:
    """A value beside the first, and what is to be held against it."""
    less = held_against(probe)
    return f"{reading(probe)} ({', '.join(less)})" if less else reading(probe)


def _trust(probes: Sequence[dict[str, Any]], *, running: bool) -> str:
    return trust(probes[0], running) if probes else ""


def _ago(pond: Pond, seconds: float) -> str:
    """The time so long ago, by the clock of this pond."""
    return datetime.fromtimestamp(pond.doors.wall_s() - seconds, pond.doors.settings.pond.zone).isoformat()
