"""One pH probe watched as a whole: which falls concern people, and what the facts say."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.outlook.finding import Condition
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sun import Sun
from dawnline.quality.judge import Judge
from dawnline.reading import Flag, Reading, Sample

SUN = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
T0 = SUN.day(date(2026, 6, 8)).start
DEADBANDS = {name: alarm.deadband for name, alarm in shipped().items()}


def watch() -> PhWatch:
    return PhWatch("ph", Judge("ph"), SUN, LimitSettings())


def take(probe: PhWatch, at: int, value: float) -> Reading | None:
    """One sample, and the minute after it, as the fold does it."""
    reading = probe.take(Sample("ph", at, value, at))
    probe.minute(at + MINUTE_MS)
    return reading


def condition(probe: PhWatch, alarm: str, at: int) -> Condition:
    return dict(probe.conditions(at, DEADBANDS))[alarm]


def wave(at: int, dawn: float) -> float:
    """From `dawn` at five in the morning up by 0.6 to five in the afternoon."""
    hour = ((at - T0) / HOUR_MS - 5) % 24
    return dawn + 0.6 * (hour if hour <= 12 else 24 - hour) / 12


@pytest.mark.parametrize(("dawn", "told"), [(7.0, True), (8.4, False)])
def test_a_fall_concerns_people_where_it_heads_for_the_lower_limit(dawn: float, told: bool) -> None:
    """The same fall, in a pond near the limit and in one far above it: it stands out in both."""
    probe = watch()
    night = T0 + 6 * DAY_MS
    for at in range(T0, night, MINUTE_MS):
        take(probe, at, round(wave(at, dawn), 3))
    seen = set()
    for at in range(night, night + 90 * MINUTE_MS, MINUTE_MS):
        take(probe, at, round(wave(at, dawn) - 0.2 * (at - night) / HOUR_MS, 3))
        seen.add(condition(probe, "sudden-drop", at + MINUTE_MS))
    assert probe.drop.condition() is Condition.MET
    assert (Condition.MET in seen) is told


def test_without_recent_good_readings_the_limits_are_not_evaluated() -> None:
    probe = watch()
    for i in range(30):
        take(probe, T0 + i * MINUTE_MS, 6.2)
    at = T0 + 30 * MINUTE_MS
    assert condition(probe, "ph-low", at) is Condition.MET
    later = at + 10 * MINUTE_MS
    for alarm in ("ph-low", "ph-crash", "ph-high", "sudden-drop", "wide-swing"):
        assert condition(probe, alarm, later) is Condition.UNKNOWN
    assert condition(probe, "no-data", later) is Condition.MET


def test_bad_readings_move_neither_the_limits_nor_the_day() -> None:
    probe = watch()
    for i in range(30):
        take(probe, T0 + i * MINUTE_MS, 7.2)
    for i in range(30, 35):
        reading = take(probe, T0 + i * MINUTE_MS, 1.0)
        assert reading is not None
        assert reading.flag is Flag.FAIL
    assert probe.current == 7.2
    assert probe.rhythm.last_value == 7.2


@pytest.mark.parametrize(
    ("alarm", "value", "says"),
    [
        ("ph-low", 6.2, "pH 6.20, below 6.5"),
        ("ph-low", 7.2, "pH 7.20"),
        ("ph-crash", 5.9, "pH 5.90, below 6"),
        ("ph-high", 9.3, "pH 9.30, above 9"),
        ("sudden-drop", 7.2, "the fall has ended, at pH 7.20"),
    ],
)
def test_a_finding_says_its_fact(alarm: str, value: float, says: str) -> None:
    probe = watch()
    for i in range(10):
        take(probe, T0 + i * MINUTE_MS, value)
    found = probe.finding(alarm, Condition.MET, T0 + 10 * MINUTE_MS)
    assert (found.alarm, found.probe, found.value, found.evidence) == (alarm, "ph", value, says)


def test_the_ordinary_dawn_low_is_named_once_it_is_known() -> None:
    probe = watch()
    for at in range(T0, T0 + 6 * DAY_MS, 5 * MINUTE_MS):
        take(probe, at, round(wave(at, 6.4), 3))
        probe.minute(at + 5 * MINUTE_MS)
    found = probe.finding("ph-low", Condition.MET, T0 + 6 * DAY_MS)
    assert "this pond's ordinary dawn low is 6.40" in found.evidence
    assert found.priority == "medium"
