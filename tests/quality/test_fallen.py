"""Rain between two messages of a gauge: totals that restart, roll over, tremble and leap, and amounts."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.quality.fallen import RECORDS, Fallen, most_mm
from dawnline.quality.rain_judge import RainJudge
from dawnline.reading import Flag, Reason, Sample

T0 = 1_780_000_000_000
GOOD = (Flag.GOOD, Reason.NONE)
TOO_MUCH = (Flag.FAIL, Reason.TOO_FAST)


def fell(fallen: Fallen, values: Sequence[float], step: int = 10 * MINUTE_MS) -> list[float]:
    said = []
    for n, value in enumerate(values):
        fallen.push(T0 + n * step, value)
        said.append(round(fallen.mm, 6))
    return said


def test_a_total_tells_by_its_difference() -> None:
    assert fell(Fallen(), [107.2, 107.2, 107.4, 109.0, 109.0]) == [0, 0, 0.2, 1.6, 0]


def test_a_total_that_begins_anew_has_shown_all_it_shows_since() -> None:
    assert fell(Fallen(), [12.0, 14.0, 0.0, 0.0, 2.0]) == [0, 2, 0, 0, 2]
    assert fell(Fallen(), [12.0, 14.0, 3.0, 4.0]) == [0, 2, 3, 1]


def test_a_total_rolls_over_where_it_is_said_to() -> None:
    assert fell(Fallen("accumulation", 100.0), [98.0, 99.5, 1.5, 2.0]) == [0, 1.5, 2, 0.5]
    assert fell(Fallen("accumulation", 13107.2), [12.0, 14.0, 3.0]) == [0, 2, 3]  # a restart, far from its end


def test_a_total_that_trembles_is_no_rain() -> None:
    assert fell(Fallen(), [20.0, 19.8, 20.0, 19.6, 20.0, 20.6]) == [0, 0, 0, 0, 0, 0.6]


def test_messages_that_are_lost_cost_no_rain_of_a_total() -> None:
    all_of_them = [0.2 * n for n in range(60)]
    assert sum(fell(Fallen(), all_of_them)) == pytest.approx(sum(fell(Fallen(), [*all_of_them[::7], all_of_them[-1]])))


def test_an_amount_is_what_it_says() -> None:
    assert fell(Fallen("amount"), [0.0, 0.4, 0.0, 2.0, 2.0]) == [0, 0.4, 0, 2, 2]


def test_nothing_rains_harder_than_the_records() -> None:
    for length, mm in RECORDS:
        assert most_mm(length) == pytest.approx(mm)
    fallen = Fallen("amount")
    assert [fallen.push(T0 + n * MINUTE_MS, value) for n, value in enumerate([0.0, 31.0, 32.0])] == [
        GOOD, GOOD, TOO_MUCH,
    ]  # fmt: skip
    assert fallen.mm == 0.0


def test_one_leap_of_a_total_is_not_believed_and_costs_nothing() -> None:
    fallen = Fallen()
    said = [fallen.push(T0 + n * MINUTE_MS, value) for n, value in enumerate([10.0, 6553.5, 10.2])]
    assert said == [GOOD, TOO_MUCH, GOOD]
    assert fallen.mm == pytest.approx(0.2)


def test_a_total_that_stays_where_it_leapt_counts_from_there() -> None:
    assert fell(Fallen(), [10.0, 6000.0, 6000.2, 6000.4], MINUTE_MS) == [0, 0, 0.2, 0.2]


@given(st.lists(st.floats(0.0, 5.0), min_size=1, max_size=60), st.integers(1, 9))
def test_a_total_and_amounts_of_the_same_rain_agree(amounts: list[float], every: int) -> None:
    totals = [sum(amounts[:n]) for n in range(len(amounts) + 1)]
    heard = [*totals[::every], totals[-1]]
    assert sum(fell(Fallen(), heard, HOUR_MS)) == pytest.approx(sum(fell(Fallen("amount"), amounts, HOUR_MS)), abs=1e-4)


@given(st.lists(st.floats(0.0, 1e6), max_size=40), st.one_of(st.none(), st.floats(1.0, 1e6)))
def test_no_series_makes_more_rain_than_there_can_be(values: list[float], rolls_over: float | None) -> None:
    fallen = Fallen("accumulation", rolls_over)
    for n, value in enumerate(values):
        fallen.push(T0 + n * HOUR_MS, value)
        assert 0.0 <= fallen.mm <= most_mm(HOUR_MS * max(n, 1)) + 1e-9


@given(st.lists(st.floats(0.0, 300.0), max_size=30), st.integers(0, 30))
def test_a_memory_saved_and_restored_goes_on(values: list[float], cut: int) -> None:
    whole, before, after = Fallen(), Fallen(), Fallen()
    expected = [whole.push(T0 + n * HOUR_MS, value) for n, value in enumerate(values)]
    said = [before.push(T0 + n * HOUR_MS, value) for n, value in enumerate(values[:cut])]
    after.restore(json.loads(json.dumps(before.save())))
    said += [after.push(T0 + n * HOUR_MS, value) for n, value in enumerate(values[cut:], min(cut, len(values)))]
    assert said == expected
    assert after.save() == whole.save()


def test_a_running_total_taken_for_amounts_is_found_out() -> None:
    fallen = Fallen("amount")
    said = [fallen.push(T0 + n * MINUTE_MS, 12.4) for n in range(120)]
    assert said.count(TOO_MUCH) > 60


def judged(judge: RainJudge, at: int, value: float) -> tuple[Flag, Reason] | None:
    return judge.push(Sample("rain", at, value, at))


def test_dry_weeks_are_no_fault_and_what_is_below_nothing_is() -> None:
    judge = RainJudge()
    assert {judged(judge, T0 + n * HOUR_MS, 4.2) for n in range(24 * 21)} == {GOOD}
    assert judged(judge, T0 + 22 * DAY_MS, -0.2) == (Flag.FAIL, Reason.OUT_OF_SPAN)


def test_water_poured_through_a_gauge_that_is_seen_to_is_no_rain() -> None:
    judge = RainJudge()
    judged(judge, T0, 10.0)
    judge.forget()
    judge.pause(Sample("rain", T0 + MINUTE_MS, 25.0, T0 + MINUTE_MS))
    judged(judge, T0 + 2 * MINUTE_MS, 25.4)
    assert judge.fallen.mm == pytest.approx(0.4)


def test_what_came_twice_or_too_late_is_not_counted() -> None:
    judge = RainJudge("amount")
    judged(judge, T0, 0.0)
    judged(judge, T0 + HOUR_MS, 3.0)
    assert judge.fallen.mm == 3.0
    assert judged(judge, T0 + HOUR_MS, 3.0) is None
    assert judge.fallen.mm == 0.0
    judge.push(Sample("rain", T0 + 2 * HOUR_MS, 3.0, T0 + 2 * HOUR_MS, dated=False))  # retained by the broker
    assert judge.fallen.mm == 0.0
