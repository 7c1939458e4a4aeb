"""What every figure is made of: nothing is lost between the readings and the picture."""

from __future__ import annotations

import re
from datetime import date, datetime
from itertools import pairwise
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.review.plot import (
    HEAD_PX,
    NARROW,
    WIDE,
    Frame,
    Shape,
    day_axis,
    days_of,
    figure,
    head,
    levels,
    line,
    ribbon,
)
from dawnline.rollup import STEP_MS, Rollup, by_step

ZONE = ZoneInfo("Europe/Berlin")


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp() * 1000)


def places(path: str) -> list[tuple[float, float]]:
    (drawn,) = re.findall(r' d="([^"]*)"', path)
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", drawn)]


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(4, 10), st.floats(0, 1)), min_size=1, max_size=400), st.sampled_from([WIDE, NARROW])
)
def test_every_extreme_is_on_the_picture(values: list[tuple[float, float]], shape: Shape) -> None:
    rollups = [Rollup(i * STEP_MS, 2, v, v + more, 2 * v + more) for i, (v, more) in enumerate(values)]
    parts = by_step(rollups, 0, 7 * STEP_MS)
    frame = Frame(shape, (0, len(values) * STEP_MS + 1), (3.9, 11.1))
    drawn = places(ribbon(frame, [(each.at, each.low, each.high) for each in parts], "x", 1e18))
    assert len(parts) <= len(values) // 7 + 1
    assert min(y for _, y in drawn) == pytest.approx(frame.y(max(each.high for each in rollups)), abs=0.06)
    assert max(y for _, y in drawn) == pytest.approx(frame.y(min(each.low for each in rollups)), abs=0.06)


def test_a_line_breaks_where_nothing_was_read() -> None:
    frame = Frame(WIDE, (0, 100), (0, 10))
    points = [(0.0, 1.0), (10.0, 2.0), (40.0, 3.0), (50.0, 4.0), (90.0, 5.0)]
    assert line(frame, points, "x", longest=10).count("M") == 3
    assert line(frame, points, "x").count("M") == 1


@pytest.mark.parametrize(("first", "last", "hours"), [("2026-03-28", "2026-03-31", [24, 23, 24]),
                                                      ("2026-10-24", "2026-10-27", [24, 25, 24])])  # fmt: skip
def test_days_are_as_long_as_they_were(first: str, last: str, hours: list[int]) -> None:
    days = days_of(Frame(WIDE, (ms(first), ms(last)), (0, 1)), ZONE)
    assert [(day.end - day.start) // HOUR_MS for day in days] == hours
    assert days[1].date == date.fromisoformat(first[:8] + str(int(first[8:]) + 1))


@pytest.mark.parametrize("shape", [WIDE, NARROW])
@pytest.mark.parametrize("hours", [3, 6, 12, 25])
def test_the_hour_that_comes_twice_runs_into_nothing(hours: int, shape: Shape) -> None:
    start = ms("2026-10-25")
    axis = "".join(day_axis(Frame(shape, (start, start + hours * HOUR_MS), (0, 1)), ZONE))
    at = [float(x) for x in re.findall('<text x="([^"]+)"', axis)]
    assert min(b - a for a, b in pairwise(at)) >= 36  # five digits at 12.5 px
    assert len(at) > 2


@pytest.mark.parametrize("days", [1, 2, 7, 31, 90, 366, 1900])
@pytest.mark.parametrize("shape", [WIDE, NARROW])
def test_the_names_of_days_do_not_run_into_one_another(days: int, shape: Shape) -> None:
    frame = Frame(shape, (ms("2026-01-01"), ms("2026-01-01") + days * DAY_MS), (0, 1))
    names = [float(x) for x in re.findall(r'<text x="([\d.]+)"', "".join(day_axis(frame, ZONE)))]
    assert names
    assert all(b - a >= 33 for a, b in pairwise(names))
    assert frame.left <= names[0]
    assert names[-1] <= frame.right


@given(st.floats(-50, 50), st.floats(0.5, 1e5))
def test_a_few_round_numbers_stand_at_the_edge(low: float, span: float) -> None:
    parts = levels(Frame(WIDE, (0, 1), (low, low + span)), lambda value: f"{value:g}")
    assert 1 <= len(parts) / 2 <= 7


def test_a_title_of_markup_stays_text() -> None:
    svg = figure(WIDE, '<b>&"', [], alone=True)
    (title,) = ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}title")
    assert title.text == '<b>&"'


def test_a_heading_is_cut_to_the_room_there_is() -> None:
    words = "From dawn low to dusk high, by-the-outlet-of-the-filter"
    narrow, wide = (head(Frame(shape, (0, 1), (0.0, 1.0)), words) for shape in (NARROW, WIDE))
    assert words in wide
    (shown,) = re.findall(">(.*)<", narrow)
    assert words.startswith(shown.removesuffix("\N{HORIZONTAL ELLIPSIS}"))
    assert shown != words
    assert NARROW.left + len(shown) * HEAD_PX <= NARROW.width
