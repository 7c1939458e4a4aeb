"""Now: how the pond is, at a glance."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from markupsafe import Markup

from dawnline.electrode.calibration import IDEAL
from dawnline.outlook.buffer_words import status_line
from dawnline.outlook.rain_book import rain_line
from dawnline.page.ask import Ask, Page
from dawnline.page.views.alarms import open_alarms
from dawnline.page.words import OPEN, verdict
from dawnline.review.report import course

DAYS: int = 2


def whole(ask: Ask) -> Page:
    """The page."""
    return Page("now.html", {**_present(ask), "picture": _picture(ask)})


def part(ask: Ask) -> Page:
    """What changes of it."""
    return Page("now_part.html", _present(ask))


def _present(ask: Ask) -> dict[str, Any]:
    present = ask.doors.present()
    data = present.data
    rain = data.get("rain")
    return {
        "data": data,
        "running": present.running,
        "verdict": verdict(data, running=present.running, age_s=present.age_s),
        "buffer": status_line(data["buffer"]) if data.get("buffer") else "",
        "rain": rain or {"probe": None},
        "rain_line": rain_line(rain) if rain and rain["probe"] is None else "",
        "alarms": [row for row in open_alarms(ask, data) if row["state"] in OPEN],
    }


def _picture(ask: Ask) -> Markup:
    """The course of pH of yesterday and today."""
    today = ask.doors.today()
    week = ask.doors.week(today - timedelta(days=DAYS - 1), today)
    if week is None:
        return Markup()
    drawn = [course(week, series) for series in week.stretch.series if series.quantity in IDEAL]
    return Markup("".join(drawn))  # noqa: S704  our own drawing, which escapes what comes from outside
