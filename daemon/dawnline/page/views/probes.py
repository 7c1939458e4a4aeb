"""Probes, links and people, to look at."""

from __future__ import annotations

from typing import Final

from dawnline.duration import iso
from dawnline.electrode.calibration import IDEAL
from dawnline.page.ask import Ask, Page
from dawnline.review.words import act_name

SHOWN: Final = 20  # of what was done at a probe, the newest


def probes(ask: Ask) -> Page:
    """The page."""
    present, zone = ask.doors.present(), ask.doors.settings.pond.zone
    known = [each.name for each in ask.doors.settings.probes if each.quantity in IDEAL]
    histories = {name: ask.doors.history(name) for name in known} if present.data["time"] else {}
    care = {
        name: ([(iso(act.at, zone), act_name(act.kind), said) for act, said in shown[-SHOWN:][::-1]], trend)
        for name, (shown, trend) in histories.items()
        if shown
    }
    data = {"data": present.data, "running": present.running, "people": ask.doors.settings.people, "care": care}
    return Page("probes.html", data)
