from __future__ import annotations

import random

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.quality.judge import Judge
from dawnline.quality.step import NEAR_MS, Step
from dawnline.reading import Flag, Reason, Sample

T0 = 1_780_000_000_000


def pushed(step: Step, values: list[float], interval: int = 10_000, begin: int = T0) -> list[bool]:
    return [step.push(begin + i * interval, value) for i, value in enumerate(values)]


def test_flat_a_jump_flat_is_the_instrument() -> None:
    step = Step("ph")
    assert pushed(step, [7.3] * 6 + [6.8] * 3) == [False] * 8 + [True]
    assert (step.since, step.size, step.offset) == (T0 + 60_000, pytest.approx(-0.5), pytest.approx(-0.5))


@pytest.mark.parametrize("dose", [0.3, 0.8, 2.0])
def test_water_behind_a_glass_electrode_shows_values_on_its_way(dose: float) -> None:
    """An electrode with a time constant of 30 s after a true change within a second: the fastest there can be."""
    step, shown, values = Step("ph"), 7.3, [7.3] * 10
    for _ in range(60):
        shown += (7.3 - dose - shown) * (1 - 2.718 ** (-10 / 30))
        values.append(round(shown, 2))
    assert not any(pushed(step, values))


@pytest.mark.parametrize("interval", [10_000, 30_000, 60_000])
def test_a_fall_over_minutes_is_no_step(interval: int) -> None:
    values = [7.3] * 10 + [7.3 - 0.15 * i for i in range(1, 10)] + [5.95] * 10
    assert not any(pushed(Step("ph"), values, interval))


@pytest.mark.parametrize("minutes", [2, 5, 15])
def test_between_readings_minutes_apart_it_is_wondered_at_for_a_while_and_nothing_is_taken_off(minutes: int) -> None:
    step = Step("ph")
    assert not any(pushed(step, [7.3] * 6 + [6.6] * 6, minutes * MINUTE_MS))
    assert (step.offset, step.size) == (0.0, pytest.approx(-0.7))
    while_ms = max(HOUR_MS, 12 * minutes * MINUTE_MS)
    assert step.wondered(T0 + 6 * minutes * MINUTE_MS + while_ms)
    assert not step.wondered(T0 + (6 * minutes + 1) * MINUTE_MS + while_ms)


def test_a_small_step_of_a_slow_probe_is_water() -> None:
    step = Step("ph")
    pushed(step, [7.3] * 6 + [7.0] * 6, 5 * MINUTE_MS)
    assert step.wondered_at is None


@pytest.mark.parametrize(
    ("values", "sure"),
    [
        ([7.3] * 6 + [6.6] * 3, True),
        ([7.3] * 6 + [7.0] * 3, False),  # not large
        ([7.3] * 6 + [6.7, 6.6, 6.6], False),  # a shoulder behind the step: acid that mixes, glass that follows
        ([7.3] * 5 + [7.2] + [6.6] * 3, False),  # and before it
    ],
)
def test_a_minute_apart_only_a_large_step_without_a_shoulder_is_the_instrument(values: list[float], sure: bool) -> None:
    assert any(pushed(Step("ph"), values, MINUTE_MS)) is sure


@pytest.mark.parametrize(
    ("values", "sure"),
    [
        ([7.3] * 5 + [7.4] + [6.8, 6.9, 6.8], True),  # its last digit flickers
        ([7.3] * 6 + [6.9, 6.8, 6.9], False),  # four counts may be the beginning of acid
        ([7.3] * 6 + [7.0, 6.8, 6.8], False),  # two counts on its way
    ],
)
def test_a_minute_apart_a_coarse_converter_may_flicker_by_a_count_about_five(values: list[float], sure: bool) -> None:
    step = Step("ph")
    assert any(step.push(T0 + i * MINUTE_MS, value, 0.1) for i, value in enumerate(values)) is sure


def test_one_count_of_a_coarse_converter_is_no_step() -> None:
    step = Step("ph")
    for i, value in enumerate([7.3] * 10 + [7.2] * 10 + [7.0] * 10):
        assert not step.push(T0 + i * 10_000, value, 0.1)


def test_behind_a_coarse_converter_a_step_leaves_the_level_unknown() -> None:
    step = Step("ph")
    shifted = [step.push(T0 + i * 10_000, value, 0.1) for i, value in enumerate([7.3] * 6 + [6.3] * 6)]
    assert shifted[-1]
    assert step.lost


def test_back_where_it_was_it_is_believed_again() -> None:
    step = Step("ph")
    assert pushed(step, [7.3] * 6 + [6.8] * 6 + [7.3] * 6)[-4:] == [False] * 4
    assert step.offset == 0.0


def test_two_steps_add_up() -> None:
    step = Step("ph")
    pushed(step, [7.3] * 6 + [6.8] * 6 + [6.5] * 6)
    assert step.offset == pytest.approx(-0.8)


@pytest.mark.parametrize("silent", [60_000, 150_000, 300_000, HOUR_MS])
@pytest.mark.parametrize("size", [1.5, 0.5, -0.9])
def test_what_goes_back_while_the_probe_is_silent_is_undone(size: float, silent: int) -> None:
    """Somebody puts a plug back on."""
    step = Step("ph")
    pushed(step, [7.3] * 20 + [7.3 + size] * 60)
    assert step.shifted
    after = pushed(step, [7.35] * 40, begin=T0 + 800_000 + silent)
    assert not any(after[3:])
    assert step.wondered_at is None


def test_a_silence_after_which_it_stands_as_before_or_elsewhere_undoes_nothing() -> None:
    for level in (8.8, 8.2):
        step = Step("ph")
        pushed(step, [7.3] * 20 + [8.8] * 60)
        assert all(pushed(step, [level] * 40, begin=T0 + 800_000 + 300_000))


@pytest.mark.parametrize("grain", [0.01, 0.1])
def test_after_a_day_a_level_that_came_half_way_back_is_believed_as_acid_does(grain: float) -> None:
    step = Step("ph")
    for i, value in enumerate([7.3] * 6 + [6.5] * 6):
        step.push(T0 + i * 10_000, value, grain)
    back = [step.push(T0 + DAY_MS + i * 10_000, 6.9, grain) for i in range(12)]
    assert back[:6] == [True] * 6  # until a day after the step
    assert not back[-1]


@pytest.mark.parametrize("grain", [0.01, 0.1])
def test_a_shift_that_stands_the_next_day_is_held_for_a_week(grain: float) -> None:
    step = Step("ph")
    for i, value in enumerate([7.3] * 6 + [6.5] * 6):
        step.push(T0 + i * 10_000, value, grain)
    for day in range(1, 7):
        assert all(step.push(T0 + day * DAY_MS + i * 10_000, 6.6, grain) for i in range(12))
    assert not step.push(T0 + 8 * DAY_MS, 6.6, grain)


def test_a_spike_before_it_hides_no_step_and_a_shoulder_does() -> None:
    assert pushed(Step("ph"), [7.3] * 4 + [8.1] + [7.3] * 3 + [6.6] * 6)[-1]
    assert not pushed(Step("ph"), [7.3] * 7 + [7.0] + [6.6] * 6)[-1]
    slow = Step("ph")
    pushed(slow, [7.3] * 4 + [8.1] + [7.3] * 3 + [6.6] * 6, 15 * MINUTE_MS)
    assert slow.size == pytest.approx(-0.7)


@pytest.mark.parametrize(
    "after", [[6.0, 6.6, 6.6, 6.6], [6.6, 6.0, 6.6, 6.6], [6.6, 7.9, 6.6, 6.6], [6.6, 6.6, 6.0, 6.6]]
)
def test_a_spike_behind_it_hides_no_step_and_water_on_its_way_is_none(after: list[float]) -> None:
    step = Step("ph")
    assert pushed(step, [7.3] * 6 + after, 30_000)[-1]
    assert step.offset == pytest.approx(-0.7)
    for fall in ([6.9, 6.6, 6.6, 6.6], [6.8, 6.6, 6.5, 6.6], [7.0, 6.7, 6.6, 6.6]):
        assert not any(pushed(Step("ph"), [7.3] * 6 + fall + [6.6] * 6, 30_000))


def test_a_lost_level_is_believed_when_it_is_where_the_water_may_be() -> None:
    step = Step("ph")
    pushed(step, [7.3] * 6 + [8.0] * 3)
    step.lose()
    assert pushed(step, [8.2] * 20, begin=T0 + HOUR_MS)[-1]
    near = pushed(step, [7.2] * 400, begin=T0 + 2 * HOUR_MS)
    assert near.index(False) == NEAR_MS // 10_000  # what only passes by on its walk is not


@pytest.mark.parametrize(("before", "after", "by_day"), [(7.3, 6.7, 6.9), (8.0, 6.6, 7.6)])
def test_a_level_lost_behind_a_coarse_converter_is_not_believed_as_the_light_lifts_ph(
    before: float, after: float, by_day: float
) -> None:
    step, begin = Step("ph"), T0 + 6 * HOUR_MS
    assert [step.push(T0 + i * MINUTE_MS, value, 0.1) for i, value in enumerate([before] * 6 + [after] * 6)][-1]
    day = [by_day, by_day + 0.1] * 45
    found = [
        step.push(begin + i * MINUTE_MS, value, 0.1) for i, value in enumerate(day + [by_day + before - after] * 9)
    ]
    assert all(found[:90])
    assert not found[-1]  # it stepped back


def test_a_lost_level_nearer_to_the_shifted_one_is_not_believed_again() -> None:
    step = Step("ph")
    assert pushed(step, [7.3] * 6 + [6.8] * 3)[-1]
    step.lose()
    assert all(pushed(step, [7.0] * 400, begin=T0 + 4 * HOUR_MS))


def test_it_remembers_across_a_restart() -> None:
    values = [7.3] * 6 + [6.8] * 20 + [7.3] * 6
    whole, first, second = Step("ph"), Step("ph"), Step("ph")
    expected = pushed(whole, values)
    found = pushed(first, values[:15])
    second.restore(first.save())
    assert found + pushed(second, values[15:], begin=T0 + 15 * 10_000) == expected


def test_the_judge_flags_a_shifted_level_and_an_ordinary_day_not() -> None:
    judge, dice = Judge("ph"), random.Random(4)
    reasons = []
    for i in range(DAY_MS // 30_000):
        level = 7.3 + (0.3 if i < 700 else -0.2) + dice.gauss(0, 0.01)
        verdict = judge.push(Sample("ph", T0 + i * 30_000, round(level, 2), T0 + i * 30_000))
        assert verdict is not None
        reasons.append(verdict)
    assert {reason for _, reason in reasons[:700]} == {Reason.NONE}
    assert set(reasons[703:]) == {(Flag.SUSPECT, Reason.SHIFTED)}


@pytest.mark.parametrize(("grain", "told"), [(0.01, True), (0.1, False)])
def test_a_shift_that_trembled_once_and_stands_the_next_day_is_held(grain: float, told: bool) -> None:
    """The offset is known again, unless the converter is too coarse to tell a walk in the air from water."""
    step = Step("ph")
    for i, value in enumerate([7.3] * 6 + [6.3] * 6):
        step.push(T0 + i * 10_000, value, grain)
    step.lose()
    assert (step.shifted, step.offset) == (True, 0.0)
    assert all(step.push(T0 + DAY_MS + i * 10_000, 6.4, grain) for i in range(12))
    assert step.offset == pytest.approx(-1.0 if told else 0.0)
    walked = Step("ph")
    for i, value in enumerate([7.3] * 6 + [6.3] * 6):
        walked.push(T0 + i * 10_000, value, grain)
    walked.lose()
    assert not [walked.push(T0 + DAY_MS + i * 10_000, 5.2, grain) for i in range(12)][-1]


def test_a_leap_of_a_slow_probe_is_remembered_whatever_follows_and_accuses_nobody() -> None:
    """A bulb lifted into the air: up at once, and then it walks."""
    interval = 5 * MINUTE_MS
    for values, leapt in (
        ([7.5, 7.5, 7.6, 7.5, 7.5, 8.8, 8.9, 9.4], 1.4),
        ([7.5, 7.5, 7.6, 7.5, 7.5, 6.3, 6.8, 5.9], -1.2),
        ([7.5, 7.5, 7.6, 7.5, 7.5, 8.8, 7.5, 7.5], 0.0),  # a spike
        ([7.5, 7.5, 7.4, 7.3, 7.2, 7.0, 6.8, 6.6], 0.0),  # a fall, however steep
    ):
        step = Step("ph")
        assert not any(pushed(step, values, interval))
        at = T0 + 5 * interval
        assert step.leapt(at + HOUR_MS) == pytest.approx(leapt)
        assert step.leapt(at + HOUR_MS + 1) == 0.0
        assert not step.wondered(at)


def test_acid_that_falls_unevenly_between_readings_of_a_slow_probe_is_no_noise() -> None:
    judge, at, dice = Judge("ph"), T0, random.Random(1)
    calm = [round(dice.gauss(7.83, 0.012), 2) for _ in range(8 * 96)]
    acid = [6.89, 6.15, 6.04, 6.03, 6.10, 6.06, 6.11, 6.11, 6.14, 6.15, 6.16, 6.18, 6.20, 6.23, 6.20, 6.24, 6.22]
    said = []
    for value in calm + acid:
        at += 15 * MINUTE_MS
        said.append(judge.push(Sample("ph", at, value, at)))
    assert all(verdict is not None and verdict[1] is not Reason.NOISY for verdict in said[-len(acid) :])


@pytest.mark.parametrize(("after", "one_way"), [((5.7, 4.6, 4.72), True), ((5.7, 4.6, 4.9), False)])
def test_a_leap_down_goes_one_way_though_it_comes_up_a_little_when_it_is_mixed(
    after: tuple[float, ...], one_way: bool
) -> None:
    step = Step("ph")
    pushed(step, [8.5] * 6 + list(after), 15 * MINUTE_MS)
    assert step.fell() is one_way


@pytest.mark.parametrize(
    ("after", "came_up"),
    [
        ([6.6, 7.0, 7.0, 6.8, 6.7, 6.8], True),  # nor does the first odd reading pass for a spike
        ([6.6, 6.5, 6.4, 6.4, 6.3, 6.3], False),
        ([6.0, 6.1, 6.2, 6.2, 6.3, 6.3], False),  # acid that is mixed
        ([8.6, 8.2, 8.4, 8.4, 8.4, 8.4], False),
    ],
)
def test_a_leap_down_that_comes_up_with_the_next_readings_is_known_for_it(after: list[float], came_up: bool) -> None:
    step = Step("ph")
    pushed(step, [7.6] * 6 + after, 5 * MINUTE_MS)
    assert step.leapt_at is not None
    assert step.came_up is came_up


def test_what_lies_past_a_step_to_wonder_at_is_known_from_its_first_reading_on() -> None:
    step = Step("ph")
    pushed(step, [7.5] * 6 + [5.5, 5.5, 5.5], 15 * MINUTE_MS)
    assert step.beyond() == [(T0 + i * 15 * MINUTE_MS, 5.5) for i in (6, 7, 8)]
    assert Step("ph").beyond() == []


def test_who_trembled_before_it_fell_goes_on_trembling() -> None:
    """A bulb lifted out: it leaps, walks, then falls one way for a while, as acid does that nothing went before."""
    judge, at, dice = Judge("ph"), T0, random.Random(1)
    calm = [round(dice.gauss(7.46, 0.015), 2) for _ in range(8 * 96)]
    dry = [7.71, 6.45, 6.51, 6.36, 5.73, 5.37, 4.86, 4.95, 4.73, 4.60, 4.39, 4.67]
    said = []
    for value in calm + dry:
        at += 15 * MINUTE_MS
        said.append(judge.push(Sample("ph", at, value, at)))
    assert [verdict is not None and verdict[1] is Reason.NOISY for verdict in said[-8:]] == [True] * 8


def test_what_it_said_while_it_trembled_is_no_level_to_count_a_shift_from() -> None:
    """Back in the water after an hour in the air the probe leaps to where the water is: that is no shift."""
    for trembles in (True, False):
        step = Step("ph")
        for i, value in enumerate([5.3] * 8 + [8.1] * 8):
            step.push(T0 + i * 10_000, value, 0.1, trembles=trembles)
        assert step.shifted is not trembles


@pytest.mark.parametrize(("back", "shifted"), [(0.6, False), (1.2, True)])
def test_a_lost_level_that_goes_back_by_as_much_as_it_came_is_believed(back: float, shifted: bool) -> None:
    step, values = Step("ph"), [8.8] * 8 + [8.2] * 8
    for i in range(2400):  # meanwhile the water goes its way
        values.append(8.2 - 0.1 * (i // 400))
    values += [values[-1] + back] * 8
    for i, value in enumerate(values):
        step.push(T0 + i * 10_000, value, 0.1)
        if i == 2400:
            assert step.lost
    assert step.shifted is shifted
