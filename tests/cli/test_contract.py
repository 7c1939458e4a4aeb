"""The objects of the contract, made from effects."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from dawnline.contract import line, rounded
from dawnline.event import Forecast, Keep, Notice, Problem, Transition
from dawnline.reading import Flag, Reading, Reason

ZONE = ZoneInfo("Europe/Berlin")
AT = 1_780_444_800_000  # 2026-06-03T00:00:00Z


def test_an_alarm() -> None:
    found = line(Transition(7, AT, AT - 600_001, "ph-low", "raised", "high", None, 6.41239, "low", "ada"), ZONE)
    assert found == {
        "event": "alarm",
        "id": 7,
        "time": "2026-06-03T02:00:00+02:00",
        "since": "2026-06-03T01:49:59.999+02:00",
        "alarm": "ph-low",
        "change": "raised",
        "priority": "high",
        "probe": None,
        "value": 6.4124,
        "text": "low",
    }


@pytest.mark.parametrize(
    ("about", "body"),
    [
        ("tonight", {"night": "2026-06-03", "low": 6.9, "low_p10": 6.7, "low_p90": 7.0, "at": "2026-06-03T05:30Z"}),
        ("buffer", {"reaches_low_on": None, "earliest": None, "latest": None, "lead_days": None, "trend": "unclear"}),
    ],
)  # fmt: skip
def test_a_forecast(about: str, body: dict[str, object]) -> None:
    found = line(Forecast(about, AT, body), ZONE)  # type: ignore[arg-type]
    assert found == {"event": "forecast", "about": about, "time": "2026-06-03T02:00:00+02:00", **body}


def test_a_problem_of_no_row() -> None:
    assert line(Problem(AT, "odd"), ZONE) == {"event": "problem", "row": None, "text": "odd"}


def test_what_the_contract_does_not_print() -> None:
    reading = Reading("ph", AT, 7.0, AT, Flag.GOOD, Reason.NONE)
    notice = Notice(AT, 1, "ph-low", "raised", "high")
    assert [line(effect, ZONE) for effect in (Keep(reading), notice)] == [None, None]


@pytest.mark.parametrize(("value", "short"), [(None, None), (7.123456, 7.1235), (0.0, 0.0)])
def test_a_figure_is_short(value: float | None, short: float | None) -> None:
    assert rounded(value) == short
