from __future__ import annotations

import re

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.outlook.finding import Condition
from dawnline.outlook.sick import Cause, Sick
from dawnline.quality.judge import Judge
from dawnline.reading import Flag, Reason

T0 = 1_780_000_000_000


def pushed(sick: Sick, reason: Reason, count: int, value: float = 7.3, at: int = T0) -> Sick:
    flag = Flag.GOOD if reason is Reason.NONE else Flag.FAIL if reason is Reason.OUT_OF_SPAN else Flag.SUSPECT
    for i in range(count):
        sick.push(at + i * 10_000, value, flag, reason)
    return sick


def test_a_probe_is_sick_when_most_readings_are_bad() -> None:
    sick = pushed(pushed(Sick(), Reason.NONE, 4), Reason.OUT_OF_SPAN, 5)
    assert sick.condition(T0, Judge("ph")) is Condition.BETWEEN
    pushed(sick, Reason.OUT_OF_SPAN, 1)
    assert sick.condition(T0, Judge("ph")) is Condition.MET
    assert sick.evidence(T0, Judge("ph")).startswith("wire: 6 of the last 10 readings are not good (out of span)")
    assert pushed(sick, Reason.NONE, 10).condition(T0, Judge("ph")) is Condition.CLEAR


@pytest.mark.parametrize("reason", [Reason.NOISY, Reason.SHIFTED])
def test_a_sure_sign_needs_no_repetition(reason: Reason) -> None:
    assert pushed(pushed(Sick(), Reason.NONE, 9), reason, 1).condition(T0, Judge("ph")) is Condition.MET


@pytest.mark.parametrize(
    ("reason", "value", "cause"),
    [
        (Reason.SPIKE, 7.3, Cause.NOISY),
        (Reason.NOISY, 7.3, Cause.NOISY),
        (Reason.UNUSUAL, 3.1, Cause.ABSURD),
        (Reason.OUT_OF_SPAN, 14.0, Cause.WIRE),
        (Reason.SHIFTED, 6.6, Cause.JUMPED),
        (Reason.SHIFTED, 7.02, Cause.WIRE),  # a shorted electrode gives 0 mV
    ],
)
def test_signs_and_their_likeliest_cause(reason: Reason, value: float, cause: Cause) -> None:
    sick = pushed(Sick(), reason, 8, value)
    assert sick.cause() is cause
    said = sick.evidence(T0 + MINUTE_MS, Judge("ph"))
    assert said.startswith(f"{cause}: ")
    assert re.search(r"; it began \d+ (s|min) ago$", said)


def test_a_thermometer_that_moves_along_says_that_the_probe_is_in_the_air() -> None:
    sick = pushed(Sick(), Reason.SHIFTED, 3)
    sick.thermometer_moved(T0 + 5 * MINUTE_MS)
    assert sick.cause() is Cause.OUT_OF_WATER
    later = pushed(Sick(), Reason.SHIFTED, 3)
    later.thermometer_moved(T0 + 30 * MINUTE_MS)
    assert later.cause() is Cause.JUMPED


@pytest.mark.parametrize(("interval", "minutes"), [(MINUTE_MS, 60), (15 * MINUTE_MS, 180)])
def test_beside_a_thermometer_that_leapt_it_may_be_in_the_air_for_an_hour_or_twelve_readings(
    interval: int, minutes: int
) -> None:
    sick, judge = Sick(), Judge("ph", interval=interval)
    assert not sick.beside_a_leap(T0, judge)
    sick.thermometer_moved(T0)
    assert sick.beside_a_leap(T0 + minutes * MINUTE_MS, judge)
    assert not sick.beside_a_leap(T0 + minutes * MINUTE_MS + 1, judge)


def test_after_maintenance_nothing_is_held_against_it() -> None:
    sick = pushed(Sick(), Reason.NOISY, 8)
    sick.forget()
    assert sick.condition(T0, Judge("ph")) is Condition.CLEAR


@pytest.mark.parametrize(
    ("quantity", "value", "cause"),
    [
        ("ph", 7.0, Cause.WIRE),
        ("electrode_mv", 0.4, Cause.WIRE),
        ("electrode_mv", 7.0, Cause.FROZEN),
        ("temperature", 7.0, Cause.FROZEN),
    ],
)
def test_no_voltage_is_a_shorted_electrode_and_of_an_electrode_only(quantity: str, value: float, cause: Cause) -> None:
    assert pushed(Sick(quantity), Reason.FLAT, 3, value).cause() is cause


@pytest.mark.parametrize(
    ("reasons", "untold"),
    [
        ([Reason.SPIKE] * 6 + [Reason.NONE] * 4, True),
        ([Reason.NONE] * 9 + [Reason.NOISY], True),
        ([Reason.SPIKE] * 5 + [Reason.NONE] * 5, False),
        ([Reason.SHIFTED] * 10, False),  # limits are judged less the shift
    ],
)
def test_the_odd_good_reading_among_bad_ones_says_nothing_of_the_pond(reasons: list[Reason], untold: bool) -> None:
    sick = Sick()
    for reason in reasons:
        pushed(sick, reason, 1)
    assert sick.untold(T0, Judge("ph")) is untold


def test_one_odd_reading_beside_a_thermometer_that_leaps_has_left_the_water_for_an_hour() -> None:
    sick = pushed(pushed(Sick(), Reason.NONE, 9), Reason.SPIKE, 1)
    assert sick.condition(T0, Judge("ph")) is Condition.CLEAR
    sick.thermometer_moved(T0 + 5 * MINUTE_MS)
    pushed(sick, Reason.NONE, 10)
    assert sick.condition(T0 + 60 * MINUTE_MS, Judge("ph")) is Condition.MET
    assert sick.evidence(T0 + 60 * MINUTE_MS, Judge("ph")).startswith("out of water: pH and temperature leapt together")
    assert sick.condition(T0 + 66 * MINUTE_MS, Judge("ph")) is Condition.CLEAR
    sick.thermometer_moved(T0 + 90 * MINUTE_MS)  # nothing odd near it
    assert not sick.left(T0 + 90 * MINUTE_MS, Judge("ph"))


def test_a_probe_that_left_the_water_says_nothing_of_the_pond_for_twelve_readings() -> None:
    sick, judge = pushed(pushed(Sick(), Reason.NONE, 9), Reason.SPIKE, 1), Judge("ph", interval=15 * MINUTE_MS)
    assert not sick.untold(T0, judge)
    sick.thermometer_moved(T0 + 5 * MINUTE_MS)
    assert sick.untold(T0 + 3 * 60 * MINUTE_MS, judge)
    assert not sick.untold(T0 + 4 * 60 * MINUTE_MS, judge)


def test_what_is_said_of_a_step_is_not_said_of_the_odd_reading_that_came_with_it() -> None:
    judge = Judge("ph")
    for i, value in enumerate([7.3] * 6 + [6.5] * 4):
        judge.step.push(T0 + i * 5 * MINUTE_MS, value)
    sick = pushed(pushed(Sick(), Reason.SPIKE, 1), Reason.NONE, 3)
    assert sick.evidence(T0 + 45 * MINUTE_MS, judge) == "jumped: it shifted by -0.80 from one reading to the next"


def test_a_step_of_a_bare_electrode_is_said_in_its_unit() -> None:
    judge = Judge("electrode_mv")
    for i, value in enumerate([-34.0] * 6 + [26.5] * 4):
        judge.step.push(T0 + i * 5 * MINUTE_MS, value)
    sick = pushed(Sick("electrode_mv"), Reason.NONE, 4)
    assert sick.evidence(T0 + 45 * MINUTE_MS, judge) == "jumped: it shifted by +60.5 mV from one reading to the next"


def test_a_bulb_that_dries_after_the_thermometer_leapt_has_left_the_water() -> None:
    for minutes, left in ((20, True), (40, False)):
        sick, judge = pushed(Sick(), Reason.NONE, 9), Judge("ph")
        sick.thermometer_moved(T0)
        sick.push(T0 + minutes * MINUTE_MS, 6.1, Flag.SUSPECT, Reason.SPIKE)
        assert sick.left(T0 + minutes * MINUTE_MS, judge) is left
