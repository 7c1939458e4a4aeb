"""The report as a whole: well-formed, styled, with a figure and a row for everything the week holds."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from html.parser import HTMLParser
from math import cos, pi
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, iso
from dawnline.electrode.layer import Layer
from dawnline.event import Act, Day, Forecast, Transition
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.review.look import FIGURE_STYLE
from dawnline.review.report import report
from dawnline.review.report_style import REPORT_STYLE
from dawnline.review.rows import objects, table
from dawnline.review.stretch import Series, Stretch
from dawnline.review.week import Week, look_back
from dawnline.rollup import STEP_MS, Rollup

ZONE = ZoneInfo("Europe/Berlin")
POND = PondSettings(name="Teich <Süd>", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")
FIRST = date(2026, 3, 26)  # a day of 23 hours is among them
VOID = {"meta", "br", "link", "img", "hr", "input"}


def ms(day: int, hour: float = 0.0) -> int:
    on = FIRST + timedelta(days=day)
    return round(datetime(on.year, on.month, on.day, tzinfo=ZONE).timestamp() * 1000 + hour * HOUR_MS)


def full_week(days: int = 7) -> Week:
    """Two pH probes, a thermometer, forecasts, a morning, alarms, entries, visits with a buffer, flags and a gap."""
    times = [at for at in range(ms(0), ms(days, -3), STEP_MS) if not ms(2, 9) <= at < ms(2, 14)]
    lows = [(at, 7.2 - 0.4 * cos(2 * pi * (at - ms(0, 5)) / DAY_MS)) for at in times]
    ph = [Rollup(at, 90, low, low + 0.02, 90 * (low + 0.01), at % 7 == 0) for at, low in lows]
    acts = [
        Act("1", ms(0, 1), "calibrated", {"probe": "ph", "points": [[7.0, 7.02, 20], [10.0, 9.98, 20]]}, "ada"),
        Act("2", ms(4, 10), "rain", {"mm": 12}, "<bo>"),
        Act("3", ms(5, 1), "calibrated", {"probe": "ph", "points": [[7.0, 7.2, 20], [10.0, 10.1, 20]]}, "ada"),
    ]
    rows = [
        Day(
            str(FIRST + timedelta(days=n)),
            probe,
            6.8,
            ms(n, 5),
            7.6,
            ms(n, 17),
            0.8,
            7.2,
            12.0,
            0.0,
            0.9,
            n == days - 1,
        )
        for n in range(days)
        for probe in ("ph", "deep")
    ]
    told = [
        Forecast("tonight", ms(n, hour), {"night": str(FIRST + timedelta(days=n + 1)), "probe": "ph", "low": 6.8,
                 "low_p10": 6.7, "low_p90": 6.9, "at": iso(ms(n + 1, 5), ZONE), "last_lows": []})
        for n in range(days)
        for hour in (19, 21, 24)
    ]  # fmt: skip
    seen = [[str(FIRST + timedelta(days=n)), 7.0 - 0.03 * n, 7.0 - 0.03 * n] for n in range(days - 1)]
    on = [str(FIRST + timedelta(days=days + n)) for n in (1, 2, 4)]
    body = {"reaches_low_on": on[1], "earliest": on[0], "latest": on[2], "lead_days": 4, "trend": "falling",
            "probe": "ph", "text": "falls"}  # fmt: skip
    morning = Forecast("buffer", ms(days - 2, 9), body, {"nights": seen, "steps": [[ms(1, 5), "odd night"]],
                                                         "used_a_day_percent": 8.0})  # fmt: skip
    alarms = [
        Transition(1, ms(3, 4), ms(3, 3), "ph-low", "raised", "high", "ph", 6.4, "low"),
        Transition(1, ms(3, 4.1), ms(3, 3), "ph-low", "acknowledged", "high", "ph", 6.4, "low", "ada"),
        Transition(2, ms(3, 5), ms(3, 5), "wide-swing", "raised", "low", "deep", 1.2, "wide"),
    ]
    now = Stretch(
        FIRST, FIRST + timedelta(days=days - 1), ms(0), ms(days), days=rows, forecasts=told, mornings=[morning],
        series=[Series("ph", "ph", ph), Series("deep", "ph", ph), Series("water", "temperature", ph)],
        transitions=alarms, acts=acts, layers={name: Layer(name, "ph", acts) for name in ("ph", "deep")},
    )  # fmt: skip
    before = Stretch(FIRST - timedelta(days=days), FIRST - timedelta(days=1), ms(-days), ms(0), days=())
    return look_back(now, before, before, POND, LimitSettings(), as_of=ms(days, -3), buffer="as of now: falls")


class Balanced(HTMLParser):
    """Fails where a tag is not closed by its own."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, _attrs: object) -> None:
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, _tag: str, _attrs: object) -> None: ...

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("days", [2, 7, 40, 100])
def test_it_is_well_formed_at_any_length(days: int) -> None:
    html = report(full_week(days))
    checked = Balanced()
    checked.feed(html)
    assert checked.open == []
    for svg in re.findall(r"<svg.*?</svg>", html, re.DOTALL):
        ElementTree.fromstring(svg)
        assert "nan" not in svg


def test_it_holds_a_figure_and_a_row_for_everything() -> None:
    html = report(full_week())
    titles = re.findall(r"<title>Teich &lt;Süd&gt;: (.*?)(?:, 2026|, as of|</title>)", html)
    wanted = ["pH of ph", "pH of deep", "water in °C", "dawn low and dusk high of ph",
              "dawn low and dusk high of deep", "the buffer line", "calibrations of ph"]  # fmt: skip
    assert titles == [name for name in wanted for _ in range(2)]
    for words in ("ada after 6 min", "still there", "Rain: 12 mm", "&lt;bo&gt;", "within", "Record, by the visits",
                  "ph: nothing good from Sat 28 Mar 09:00"):  # fmt: skip
        assert words in html
    assert "<bo>" not in html


def test_every_class_has_a_style() -> None:
    html = report(full_week())
    used = {name for names in re.findall(r'class="([^"]+)"', html) for name in names.split()}
    plain = {"fig", "words", "nights", "figures"}
    assert {name for name in used - plain if f".{name}" not in FIGURE_STYLE + REPORT_STYLE} == set()


def test_light_and_dark_name_the_same_colours() -> None:
    light, dark = re.findall(r":root\{([^}]*)\}", FIGURE_STYLE)
    assert re.findall(r"--\w+", light) == re.findall(r"--\w+", dark)
    used = set(re.findall(r"var\((--\w+)\)", FIGURE_STYLE + REPORT_STYLE))
    assert used <= set(re.findall(r"--\w+", light))


def test_the_data_has_a_row_for_everything() -> None:
    week = full_week()
    kinds = [row["event"] for row in objects(week)]
    assert {kind: kinds.count(kind) for kind in dict.fromkeys(kinds)} == {
        "review": 1, "day": 14, "alarm": 3, "correction": 2, "night": 6, "forecast": 1, "episode": 2, "act": 3,
        "gap": 3, "probe": 3, "alarm-performance": 1, "sentence": kinds.count("sentence"),
    }  # fmt: skip
    assert len(table(week).splitlines()) == 15


def test_a_stretch_with_nothing_in_it_draws_nothing() -> None:
    empty = replace(
        full_week().stretch, days=(), series=(), forecasts=(), mornings=(), transitions=(), acts=(), layers={}
    )
    html = report(look_back(empty, empty, empty, POND, LimitSettings(), as_of=None))
    assert "<svg" not in html
    assert "Nothing was recorded on these days." in html


def test_alarms_stand_under_their_titles_and_degrees_are_degrees() -> None:
    found = replace(full_week(), titles={"ph-low": "Der pH ist <tief>"})
    page = report(found)
    assert "<b>Der pH ist &lt;tief&gt;</b> [ph]" in page
    assert "<title>Der pH ist &lt;tief&gt;</title>" in page
    assert "<b>ph-low" not in page
    assert "degC" not in page
    assert "\N{DEGREE SIGN}C" in page


KEPT = "only the lowest, highest and mean of each quarter of an hour are kept ([store] keep_raw)"


@pytest.mark.parametrize(
    ("raw_since", "words"),
    [
        (ms(0), ""),  # all readings of these days are there
        (ms(0) + 1, f"of the first of these days {KEPT}"),
        (ms(7) - 1, f"of the first of these days {KEPT}"),
        (ms(7), f"of these days {KEPT}"),
    ],
)
def test_it_says_of_which_days_only_quarters_of_an_hour_are_kept(raw_since: int, words: str) -> None:
    week = full_week()
    week = replace(week, stretch=replace(week.stretch, raw_since=raw_since))
    head = next(objects(week))
    assert head.get("thinned", "") == words
    html = report(week)
    assert (KEPT in html) is bool(words)
    if words:
        assert f"<p>{words}</p></section>" in html.partition("What is missing")[2]
