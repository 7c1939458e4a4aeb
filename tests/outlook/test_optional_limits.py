"""Oxygen and temperature: judged where there is such a probe and, for temperature, a limit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Transition
from dawnline.outlook.settings import LimitSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND

T0 = 1_780_437_600_000  # 3 June 2026, midnight in Berlin


def told(
    quantity: str, value: Callable[[float], float], hours: float, limits: LimitSettings | None = None
) -> list[tuple[str, str, str, str]]:
    """Alarm changes while a probe reads `value(hour)` once a minute: time in h:mm, alarm, change, priority."""
    pipe, found = Pipeline(shipped(), POND, [("p", quantity, None, None)], limits), []
    for at in range(T0, T0 + round(hours * HOUR_MS), MINUTE_MS):
        ripple = 0.02 * (at // MINUTE_MS % 3)  # no instrument reads the same for hours
        sample = Sample("p", at, round(value((at - T0) / HOUR_MS) + ripple, 2), at)
        found += [e for e in pipe.step(sample) if isinstance(e, Transition)]
    return [
        (f"{(e.at - T0) // HOUR_MS}:{(e.at - T0) // MINUTE_MS % 60:02}", e.alarm, e.change, e.priority) for e in found
    ]


def fall(hour: float) -> float:
    """Oxygen from 8 mg/L down by one an hour to 3 at five, and as fast up again from six."""
    return max(8 - hour, 3.0) if hour < 6 else min(3 + (hour - 6), 8.0)


def test_oxygen_warns_escalates_once_and_returns_beyond_the_deadband() -> None:
    # Below 6 from 2:03 on (5.95), below 4 from 4:03, above 6.3 from 9:19; each is seen at the next minute.
    assert told("dissolved_oxygen", fall, 12) == [
        ("2:14", "oxygen-low", "raised", "medium"),
        ("4:04", "oxygen-low", "escalated", "high"),
        ("9:50", "oxygen-low", "returned", "high"),
    ]


def test_oxygen_that_dips_for_less_than_its_on_delay_is_silent() -> None:
    assert told("dissolved_oxygen", lambda hour: 6.2 - 0.4 * max(0, 1 - abs(hour - 1) / 0.1), 3) == []


def test_oxygen_limits_of_the_keeper_hold() -> None:
    limits = LimitSettings(oxygen_low=5.0, oxygen_very_low=2.0)
    assert [row[2:] for row in told("dissolved_oxygen", fall, 6, limits)] == [("raised", "medium")]


def day(hour: float) -> float:
    """Water between 18 and 26 degC, warmest at 17:00."""
    return 22 + 4 * (1 - abs((hour - 17 + 12) % 24 - 12) / 6)


def test_without_limits_no_temperature_raises_anything() -> None:
    assert told("temperature", day, 48) == []


def test_temperatures_beyond_the_keepers_limits() -> None:
    found = told("temperature", day, 24, LimitSettings(temperature_low=19.0, temperature_high=25.0))
    assert [row[1:] for row in found] == [
        ("temperature-low", "raised", "low"),
        ("temperature-low", "returned", "low"),
        ("temperature-high", "raised", "low"),
        ("temperature-high", "returned", "low"),
    ]


def test_a_limit_that_is_gone_ends_its_alarm() -> None:
    hot = Pipeline(shipped(), POND, [("p", "temperature", None, None)], LimitSettings(temperature_high=20.0))
    for at in range(T0, T0 + HOUR_MS, MINUTE_MS):
        hot.step(Sample("p", at, 24 + 0.1 * (at // MINUTE_MS % 2), at))
    assert ("temperature-high", "p") in hot.desk.memory
    free, found = Pipeline(shipped(), POND, [("p", "temperature", None, None)]), list[Any]()
    free.restore(hot.save())
    for at in range(T0 + HOUR_MS, T0 + 3 * HOUR_MS, MINUTE_MS):
        found += free.step(Sample("p", at, 24 + 0.1 * (at // MINUTE_MS % 2), at))
    assert [e.change for e in found if isinstance(e, Transition)] == ["returned"]


@pytest.mark.parametrize("quantity", ["dissolved_oxygen", "temperature"])
def test_without_a_good_recent_value_nothing_is_judged(quantity: str) -> None:
    limits = LimitSettings(temperature_low=10.0)
    pipe = Pipeline(shipped(), POND, [("p", quantity, None, None)], limits)
    for at in range(T0, T0 + HOUR_MS, MINUTE_MS):
        pipe.step(Sample("p", at, 12 + 0.1 * (at // MINUTE_MS % 2), at))
    pipe.step(Sample("p", T0 + HOUR_MS, 1.0, T0 + HOUR_MS))  # one low value, then silence
    effects = pipe.advance(T0 + DAY_MS)
    assert {e.alarm for e in effects if isinstance(e, Transition)} == {"no-data"}
