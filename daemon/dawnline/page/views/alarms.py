"""Alarms: what is open, what to do about it, and what was."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from dawnline.alarms.ledger import overridden
from dawnline.alarms.text import response
from dawnline.errors import InputError
from dawnline.page.ask import Ask, Go, Page, said
from dawnline.page.words import urgency
from dawnline.review.tables import alarm_table


def whole(ask: Ask) -> Page:
    """The page."""
    week = ask.doors.week(None, None)
    past = Markup("" if week is None else alarm_table(week))  # noqa: S704  our own table, which escapes
    return Page("alarms.html", {"alarms": open_alarms(ask, ask.doors.present().data), "past": past})


def part(ask: Ask) -> Page:
    """What changes of it."""
    return Page("alarms_part.html", {"alarms": open_alarms(ask, ask.doors.present().data)})


def open_alarms(ask: Ask, data: dict[str, Any]) -> list[dict[str, Any]]:
    """Every alarm that is not normal, the most urgent first, with what to do; only that one's stands open."""
    rows = sorted(data["alarms"], key=urgency, reverse=True)
    return [
        {**row, "steps": _steps(ask, row), "first": place == 0 and row["state"] == "unacknowledged"}
        for place, row in enumerate(rows)
    ]


def _steps(ask: Ask, row: dict[str, Any]) -> list[str]:
    settings = ask.doors.settings
    kind = settings.catalogue.get(row["alarm"])
    if kind is None:
        return []
    kind = overridden(kind, settings.alarms.get(row["alarm"]))
    return [line.strip() for line in response(settings.catalogue, kind, row["probe"]) if line.strip()]


def acknowledge(ask: Ask) -> Go:
    """Somebody has it."""
    return _put(ask, "acknowledge", {"id": int(ask.path["id"])})


def shelve(ask: Ask) -> Go:
    """Hide it for a stated time."""
    body = {"id": int(ask.path["id"]), "for": ask.form.get("for", "2h"), "why": ask.form.get("why", "")}
    return _put(ask, "shelve", body)


def unshelve(ask: Ask) -> Go:
    """Show it again."""
    return _put(ask, "unshelve", {"id": int(ask.path["id"])})


def _put(ask: Ask, kind: str, body: dict[str, Any]) -> Go:
    try:
        return said(ask.put(kind, body), "/alarms")
    except InputError as error:
        return Go("/alarms", str(error), well=False)
