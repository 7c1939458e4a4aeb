"""Probes, links and people, to look at."""

from __future__ import annotations

from dawnline.page.ask import Ask, Page


def probes(ask: Ask) -> Page:
    """The page."""
    present = ask.doors.present()
    shown = {"data": present.data, "running": present.running, "people": ask.doors.settings.people}
    return Page("probes.html", shown)
