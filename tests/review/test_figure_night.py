"""The picture of one night: valid SVG, whatever the pond is called and whatever was measured."""

from __future__ import annotations

import re
from datetime import datetime
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.event import Transition
from dawnline.outlook.settings import LimitSettings
from dawnline.review.figure_night import HEIGHT, WIDTH, night_svg

from ..pond import POND

ZONE = ZoneInfo("Europe/Berlin")
T0 = round(datetime(2026, 6, 10, 20, tzinfo=ZONE).timestamp() * 1000)
MINUTE_MS = 60_000
NIGHT = [(T0 + i * MINUTE_MS, 7.4 - 0.001 * i) for i in range(840)]


def told(minute: int, alarm: str = "ph-low", change: str = "raised") -> Transition:
    return Transition(1, T0 + minute * MINUTE_MS, T0, alarm, change, "high", "ph", 6.4, "")  # type: ignore[arg-type]


def tags(svg: str, name: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter(f"{{http://www.w3.org/2000/svg}}{name}"))


def test_a_night_is_drawn_with_its_hours_limits_and_dark() -> None:
    svg = night_svg(NIGHT, [], POND, LimitSettings())
    texts = [element.text for element in tags(svg, "text")]
    assert "Heron Lane, night of 10 June 2026: pH" in texts
    assert {"21:00", "00:00", "09:00", "low 6.5", "crash 6"} <= set(texts)
    paper, dark = tags(svg, "rect")
    assert paper.get("width") == str(WIDTH)
    assert 0.5 < float(dark.get("width") or 0) / WIDTH < 0.65  # of 14 hours, sunset 21:21 to sunrise 05:28


def test_only_what_was_raised_in_this_night_is_marked() -> None:
    alarms = [told(60), told(90, "ph-crash", "returned"), told(-5, "no-data"), told(841, "sudden-drop")]
    texts = " ".join(e.text or "" for e in tags(night_svg(NIGHT, alarms, POND, LimitSettings()), "text"))
    assert "21:00 ph-low" in texts
    for hidden in ("ph-crash", "no-data", "sudden-drop"):
        assert hidden not in texts


def test_a_name_of_markup_stays_a_name() -> None:
    name = '<script>"&</script>'
    svg = night_svg(NIGHT, [], POND.model_copy(update={"name": name}), LimitSettings())
    assert "<script>" not in svg
    assert tags(svg, "title")[0].text == f"{name}: pH in the night of 10 June 2026"


def test_without_a_reading_there_is_no_picture() -> None:
    with pytest.raises(ValueError, match="no reading"):
        night_svg([], [], POND, LimitSettings())


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 1440), st.floats(2, 12)), min_size=1, max_size=50))
def test_every_point_lies_on_the_paper(readings: list[tuple[int, float]]) -> None:
    points = sorted((T0 + minute * MINUTE_MS, value) for minute, value in readings)
    svg = night_svg(points, [], POND, LimitSettings())
    (drawn,) = [path.get("d") or "" for path in tags(svg, "path") if path.get("class") == "ph"]
    for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", drawn):
        assert 0 <= float(x) <= WIDTH
        assert 0 <= float(y) <= HEIGHT
