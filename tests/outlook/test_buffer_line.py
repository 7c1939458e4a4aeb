"""The buffer line on ponds whose end is known: what it says, and when it says nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from math import ceil, exp, log, log10
from random import Random

import pytest

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.outlook.buffer_line import BufferLine, Outlook, _likeliest
from dawnline.outlook.buffer_words import say
from dawnline.outlook.rain_book import Fell
from dawnline.water.units import dkh_from_meq_l

LIMIT = 6.5
LEVEL = 7.5  # pH at 1 meq/L, so that 0.1 meq/L gives the limit
Watched = Callable[[int, BufferLine], None]


def low(alkalinity: float) -> float:
    return LEVEL + log10(max(alkalinity, 1e-3))


def line_of(lows: list[float], water_c: float | None = None, acts: Watched | None = None) -> list[Outlook]:
    """Each morning's outlook; `acts` is called before each night."""
    line, found, dice = BufferLine(LIMIT), [], Random(7)
    for n, value in enumerate(lows):
        if acts is not None:
            acts(n, line)
        found.append(line.night(n * DAY_MS, value + dice.gauss(0.0, 0.01), water_c))
    return found


def falling(nights: int, start: float = 1.0, a_day: float = 0.05) -> list[float]:
    """By 0.05 meq/L a day from 1: it is under the limit from night 19 on."""
    return [low(start - a_day * n) for n in range(nights)]


END = 19


@pytest.mark.parametrize("out", [7, 5, 3, 2])
def test_the_day_is_named_days_ahead(out: int) -> None:
    said = line_of(falling(END - out + 1))[-1]
    assert said.trend == "falling"
    assert said.central is not None
    assert said.earliest is not None
    assert said.latest is not None
    assert abs(said.central - out) <= max(1, out // 3)
    assert said.earliest <= out <= said.latest


def test_the_likeliest_day_is_the_middle_of_the_likeliest_three() -> None:
    assert _likeliest([0.0, 0.0, 0.0, 0.1, 0.9, *[1.0] * 25]) == 5
    assert _likeliest([0.1, 0.4, 0.6, 0.7, 0.75, *[0.8] * 25]) == 2  # the median day is the third
    assert _likeliest([0.9, *[1.0] * 29]) == 1


def test_a_low_under_the_limit_is_today() -> None:
    said = line_of(falling(END + 1))[-1]
    assert (said.earliest, said.central, said.latest) == (0, 0, 0)


def test_no_date_beyond_ten_days() -> None:
    for said in line_of(falling(END)):
        assert said.central is None or said.central <= 10


def test_a_level_pond_is_steady_and_has_no_date() -> None:
    said = line_of([7.2] * 30)
    assert said[-1].trend == "steady"
    assert all(each.central is None and each.latest is None for each in said)


def test_a_growing_buffer_is_rising() -> None:
    assert line_of([low(0.3 + 0.05 * n) for n in range(20)])[-1].trend == "rising"


@pytest.mark.parametrize("step", [-0.25, 0.25])
def test_a_step_of_the_level_is_found_and_leaves_the_days(step: float) -> None:
    lows = [value + (step if n >= 8 else 0.0) for n, value in enumerate(falling(END - 3))]
    said = line_of(lows)[-1]
    assert [(odd.at, odd.stepped) for odd in said.oddities] == [(8 * DAY_MS, True)]
    end = next(n for n in range(40) if low(1.0 - 0.05 * n) + step < LIMIT)  # the level itself moved
    assert said.central is not None
    assert abs(said.central - (end - len(lows) + 1)) <= 1


def test_one_odd_night_moves_nothing() -> None:
    lows = falling(END - 3)
    plain = line_of(lows)[-1]
    lows[9] -= 0.3
    said = line_of(lows)[-1]
    assert [(odd.at, odd.stepped) for odd in said.oddities] == [(9 * DAY_MS, False)]
    assert said.central == plain.central


def test_an_odd_last_night_is_said_so() -> None:
    lows = falling(END - 3)
    lows[-1] += 0.6
    said = line_of(lows)[-1]
    assert said.last_odd
    assert say(said, LIMIT, date(2026, 6, 14), 0).endswith("the last night does not fit and is left out")


def test_an_odd_last_night_below_the_limit_is_said_before_any_date() -> None:
    lows = falling(END - 3)
    lows[-1] -= 0.6
    said = line_of(lows)[-1]
    words = say(said, LIMIT, date(2026, 6, 14), 0)
    assert said.last_odd
    assert f"the last night went down to {lows[-1]:.2f}, below {LIMIT:g}; it does not fit" in words
    assert words.index("went down") < words.index("by those, the dawn low is likely")


def test_shell_that_bends_the_line_gives_no_date() -> None:
    """It comes to rest at pH 6.75, well above the limit."""
    lows = [low(0.18 + 0.82 * exp(-n / 6)) for n in range(16)]

    def checks(n: int, line: BufferLine) -> None:
        line.checked(n * DAY_MS - HOUR_MS, 0.0)

    said = line_of(lows, acts=checks)
    assert all(each.central is None for each in said[10:])
    assert said[-1].bends > 0.5


# ------------------------------------------------------------ known acts


def test_weekly_water_changes_are_known_steps_and_silence_nothing() -> None:
    """A fifth a week for water of 0.5 meq/L; the lows jump, the end is named all the same."""
    level, lows, changes = 1.4, [], []
    for n in range(60):
        if n % 7 == 5:
            level = 0.8 * level + 0.2 * 0.5
            changes.append(n)
        lows.append(low(level))
        level -= 0.05
    end = next(n for n, value in enumerate(lows) if value < LIMIT)

    def changed(n: int, line: BufferLine) -> None:
        if n in changes:
            line.diluted(n * DAY_MS - 6 * HOUR_MS, 0.2, 0.5)

    out = min(5, (end - 5) % 7)  # what will be done later cannot be known
    said = line_of(lows[: end - out + 1], acts=changed)[-1]
    assert said.trend == "falling"
    assert said.central is not None
    assert abs(said.central - out) <= 1


def test_a_dose_puts_the_day_off() -> None:
    lows = falling(END - 2)

    def dosed(n: int, line: BufferLine) -> None:
        if n == END - 3:
            line.added(n * DAY_MS - 6 * HOUR_MS, 0.3)

    before = line_of(lows)[-2]
    lows[-1] = low(1.0 - 0.05 * (END - 3) + 0.3)
    said = line_of(lows, acts=dosed)[-1]
    assert before.central is not None
    assert said.central is None or said.central >= before.central + 3
    assert said.trend in ("falling", "unclear")


def test_half_the_feed_doubles_the_days() -> None:
    lows = falling(END - 6)
    level = 1.0 - 0.05 * (END - 7)
    lows += [low(level - 0.025 * n) for n in (1, 2, 3)]

    def fed(n: int, line: BufferLine) -> None:
        if n in (0, END - 6):
            line.feeding(n * DAY_MS - 6 * HOUR_MS, 100.0 if n == 0 else 50.0)

    out = next(n for n in range(30) if low(level - 0.025 * (3 + n)) < LIMIT)
    knowing, guessing = line_of(lows, acts=fed)[-1], line_of(lows)[-1]
    assert knowing.a_day is not None
    assert guessing.a_day is not None
    assert knowing.a_day < guessing.a_day
    assert knowing.latest is not None
    assert knowing.latest >= out - 2


def test_rain_thins_what_is_left() -> None:
    line = BufferLine(LIMIT)
    line.night(0, 7.2)
    line.rained([Fell(HOUR_MS, 100.0)], -100.0 / log(0.9))
    line.night(DAY_MS, 7.2 + log10(0.9))
    marks = line.diary.record({}).course_marks
    assert [(mark.kind, mark.amount) for mark in marks] == [(0, 0.0), (4, 0.9), (0, 0.0)]


# ------------------------------------------------------------ measurements


@pytest.mark.parametrize("kit", [1.0, 0.25])
def test_tests_of_kh_give_the_scale_and_narrow_the_range(kit: float) -> None:
    lows = falling(END - 6)

    def tested(n: int, line: BufferLine) -> None:
        if n in (3, 7, 11):
            line.tested(n * DAY_MS - HOUR_MS, ceil(dkh_from_meq_l(1.0 - 0.05 * n) / kit) * kit)

    said, plain = line_of(lows, acts=tested)[-1], line_of(lows)[-1]
    assert plain.alkalinity is None
    assert said.alkalinity == pytest.approx(1.0 - 0.05 * (END - 7), rel=0.35 if kit == 1.0 else 0.12)
    assert said.latest is not None
    assert plain.latest is None or said.latest <= plain.latest


def test_checks_of_the_probe_narrow_the_range() -> None:
    lows = falling(END - 4)

    def checked(n: int, line: BufferLine) -> None:
        if n % 3 == 2:
            line.checked(n * DAY_MS - HOUR_MS, 0.0)

    said, plain = line_of(lows, acts=checked)[-1], line_of(lows)[-1]
    assert said.latest is not None
    assert said.earliest is not None
    assert plain.latest is not None
    assert plain.earliest is not None
    assert said.latest - said.earliest < plain.latest - plain.earliest


def test_a_drift_that_checks_show_is_no_loss_of_buffer() -> None:
    """The probe drifts by 0.03 a day, the pond stands still."""
    lows = [7.2 - 0.03 * n for n in range(16)]

    def checked(n: int, line: BufferLine) -> None:
        line.checked(n * DAY_MS - HOUR_MS, -0.03 * n)

    assert line_of(lows)[-1].trend == "falling"
    assert line_of(lows, acts=checked)[-1].trend != "falling"


# ------------------------------------------------------------ not evaluated


def test_in_cold_water_it_is_not_evaluated() -> None:
    said = line_of(falling(12), water_c=6.0)[-1]
    assert said.central is None
    assert said.trend == "unclear"
    assert "below 8 degC" in said.why_not


def test_without_feed_it_is_not_evaluated() -> None:
    def fasting(n: int, line: BufferLine) -> None:
        if n == 10:
            line.feeding(n * DAY_MS - HOUR_MS, 0.0)

    assert "nothing is fed" in line_of(falling(12), acts=fasting)[-1].why_not


def test_under_ice_it_is_not_evaluated_where_no_thermometer_says_otherwise() -> None:
    def frozen(thaw: int) -> Watched:
        def acts(n: int, line: BufferLine) -> None:
            if n in (9, thaw):
                line.iced(n * DAY_MS - HOUR_MS, 0.15, covers=n == 9)

        return acts

    assert "ice covers the pond" in line_of(falling(12), acts=frozen(99))[-1].why_not
    assert line_of(falling(12), acts=frozen(11))[-1].why_not == ""
    assert line_of(falling(12), water_c=12.0, acts=frozen(99))[-1].why_not == ""


def test_too_few_nights_are_not_evaluated() -> None:
    said = line_of(falling(12))
    assert [bool(each.why_not) for each in said] == [True] * 6 + [False] * 6
    line = BufferLine(LIMIT)
    for n, value in enumerate(falling(10)):
        line.night(n * 3 * DAY_MS, value)
    assert "of the last ten" in line.night(30 * DAY_MS, 7.0).why_not


def test_acts_that_cannot_be_are_said_so() -> None:
    def dosed(n: int, line: BufferLine) -> None:
        if n == 8:
            line.added(n * DAY_MS - HOUR_MS, 1e6)

    assert "contradicts" in line_of(falling(12), acts=dosed)[-1].why_not


# ------------------------------------------------------------ memory


def test_a_line_cut_in_two_is_the_line() -> None:
    whole, cut = BufferLine(LIMIT), BufferLine(LIMIT)
    for n, value in enumerate(falling(16)):
        if n == 9:
            memory = json.dumps(cut.save())
            cut = BufferLine(LIMIT)
            cut.restore(json.loads(memory))
        for line in (whole, cut):
            if n == 5:
                line.feeding(n * DAY_MS - HOUR_MS, 80.0)
                line.tested(n * DAY_MS - HOUR_MS, 2.25)
        assert whole.night(n * DAY_MS, value, 18.0) == cut.night(n * DAY_MS, value, 18.0)
    assert whole.save() == cut.save()


def test_the_memory_is_of_months_not_of_years() -> None:
    line = BufferLine(LIMIT)
    line.feeding(0, 0.0)  # nothing is evaluated: quick
    for n in range(400):
        line.night(n * DAY_MS, 7.2)
        line.checked(n * DAY_MS + HOUR_MS, 0.0)
    assert len(json.dumps(line.save())) < 20_000
