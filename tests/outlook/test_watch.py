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


@pytest.mark.parametrize(
    ("leapt", "told"),
    [
        ([6.15, 6.15, 6.2, 6.25, 6.25, 6.3, 6.3, 6.3, 6.35], True),  # acid: what it took comes back over hours
        ([6.15, 6.23, 6.4, 6.45, 6.4, 6.25, 6.2, 6.2, 6.25], False),
        ([6.44, 6.22, 5.82, 6.0, 5.34, 5.3, 5.3], False),  # in the air it goes up and down
    ],
)
def test_a_slow_probe_that_leaps_down_is_believed_where_it_goes_one_way(leapt: list[float], told: bool) -> None:
    probe, night = watch(), T0 + 6 * DAY_MS
    for at in range(T0, night, 15 * MINUTE_MS):
        take(probe, at, round(wave(at, 7.4) + 0.03 * (at // MINUTE_MS % 2), 2))
    said = []
    for i, value in enumerate(leapt):
        at = night + i * 15 * MINUTE_MS
        take(probe, at, value)
        said.append(condition(probe, "ph-low", at + MINUTE_MS))
    assert (said[-3:] == [Condition.MET] * 3) is told
    assert (Condition.UNKNOWN in said[-3:]) is not told


def test_an_odd_reading_above_the_limit_gainsays_the_low_ones_before_it() -> None:
    """A bulb in the air walks below the limit and back: who is to be believed is seen at the next reading."""
    probe, at, told = watch(), T0, []
    for value in [7.68] * 12 + [7.18, 7.10, 6.86, 6.38, 6.46, 7.12, 7.32, 7.50]:
        at += 5 * MINUTE_MS
        take(probe, at, value)
        told.append(condition(probe, "ph-low", at + MINUTE_MS))
    assert told[-5:] == [Condition.MET, Condition.MET, *[Condition.UNKNOWN] * 3]


@pytest.mark.parametrize(("step", "low"), [(0.4, True), (-1.0, False)])
def test_where_a_step_left_the_level_unknown_a_ph_low_with_it_and_without_it_is_told(step: float, low: bool) -> None:
    """Behind tenths: 5.9 after a step up by 0.4 is below 6.5 either way, 6.0 after one down by 1.0 may be 7.0."""
    probe, seen = watch(), set()
    for number in range(5 * 120):
        at = T0 + number * MINUTE_MS // 2
        fallen = min(1.6 if step > 0 else 0.1, 0.15 * max(0, number - 360))
        take(probe, at, round(7.1 + 0.1 * (number // 7 % 2) - fallen + step * (number >= 250), 1))
        seen.add((condition(probe, "ph-low", at + MINUTE_MS), probe.judge.step.lost, number > 360))
    assert ((Condition.MET, True, True) in seen) is low
    assert (Condition.MET, True, False) not in seen
    assert (Condition.UNKNOWN, True, False) in seen


def test_what_stands_still_where_the_pond_moves_has_no_course_that_a_night_could_take() -> None:
    """Shorted at dawn: pH 7.0 all day and into the night, its last digit alive, far below what the evenings show."""
    probe, told = watch(), set()
    for at in range(T0, T0 + 7 * DAY_MS, 5 * MINUTE_MS):
        shorted = at >= T0 + 6 * DAY_MS + 5 * HOUR_MS
        rolls = 0.01 * (at // (5 * MINUTE_MS) % 7 == 0)
        take(probe, at, 7.0 + rolls if shorted else round(wave(at, 7.6), 2))
        told.add((shorted, condition(probe, "night-slide", at + MINUTE_MS)))
    assert probe.doubt.rest.since is not None
    assert probe.doubt.set_aside
    assert (True, Condition.MET) not in told


def test_a_step_that_undoes_what_tests_by_hand_found_shows_the_nights_before_it_in_the_same_light() -> None:
    """It showed 1.2 less than the water: were its low nights believed, the next one would look like a fall."""
    probe = watch()
    for at in range(T0, T0 + 6 * DAY_MS, 5 * MINUTE_MS):
        take(probe, at, round(wave(at, 6.4), 2))
        if at in (T0 + 5 * DAY_MS, T0 + 5 * DAY_MS + 6 * HOUR_MS):
            probe.tested(at, wave(at, 7.6))
    lows = probe.slide.tonight.lows()
    assert probe.doubt.stands(T0 + 6 * DAY_MS)
    for at in range(T0 + 6 * DAY_MS, T0 + 6 * DAY_MS + HOUR_MS, 5 * MINUTE_MS):
        take(probe, at, round(wave(at, 7.6), 2))
    assert not probe.doubt.stands(T0 + 6 * DAY_MS + HOUR_MS)
    assert probe.slide.tonight.lows() == pytest.approx([low + 1.2 for low in lows], abs=0.05)


@pytest.mark.parametrize(("by_hand", "judged"), [(5.0, Condition.MET), (4.5, Condition.UNKNOWN)])
def test_a_probe_that_tests_by_hand_find_far_off_judges_no_limit(by_hand: float, judged: Condition) -> None:
    probe = watch()
    for i in range(30):
        take(probe, T0 + i * MINUTE_MS, 7.2)
    at = T0 + 30 * MINUTE_MS
    probe.tested(at, by_hand)
    assert condition(probe, "ph-low", at) is judged
    assert ("no limit is judged by it" in probe.doubt.evidence(at)) is (judged is Condition.UNKNOWN)


def test_a_test_by_hand_beside_a_frozen_value_says_nothing_of_the_probes_error() -> None:
    probe, stops = watch(), T0 + 6 * DAY_MS + 17 * HOUR_MS
    for at in range(T0, stops, MINUTE_MS):
        take(probe, at, round(wave(at, 7.0) + 0.01 * (at // MINUTE_MS % 2), 2))
    last = probe.current
    assert last is not None
    for at in range(stops, stops + 8 * HOUR_MS, MINUTE_MS):
        take(probe, at, last)
        if at == stops + 2 * HOUR_MS:
            probe.tested(at, last - 1.0)
            assert probe.doubt.hand.error(at) > 0.5
    assert dict(probe.conditions(stops + 8 * HOUR_MS, DEADBANDS))["probe-suspect"] is Condition.MET
    assert probe.doubt.hand.error(stops + 8 * HOUR_MS) == 0.0


@pytest.mark.parametrize(("dawn", "told"), [(7.74, False), (7.3, True)])
def test_a_probe_that_is_far_off_forecasts_only_what_is_sure(dawn: float, told: bool) -> None:
    probe, evening, levels, found = watch(), T0 + 6 * DAY_MS + 17 * HOUR_MS, set(), set()
    for at in range(T0, evening + 7 * HOUR_MS, 5 * MINUTE_MS):
        take(probe, at, round(wave(at, dawn) + 0.01 * (at // MINUTE_MS % 2), 2))
        if at == evening:
            probe.tested(at, wave(at, dawn) - 1.4)
        if at > evening:
            levels.add(probe.slide.level)
            found.add(condition(probe, "night-slide", at + MINUTE_MS))
    assert probe.doubt.hand.error(evening) == pytest.approx(1.1, abs=0.02)
    assert max(levels) == (3 if told else 2)
    assert (Condition.MET in found) is told


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


@pytest.mark.parametrize(("more", "level"), [(0.1, 3), (1.2, 0)])
def test_a_test_by_hand_that_accuses_the_probe_has_its_night_judged_anew(more: float, level: int) -> None:
    probe = watch()
    for at in range(T0, T0 + 2 * HOUR_MS, MINUTE_MS):
        take(probe, at, 6.8)
    probe.slide.level, probe.slide.likely = 3, True
    probe.tested(T0 + 2 * HOUR_MS, 6.8 + more)
    assert (probe.slide.level, probe.slide.likely) == (level, level == 3)
