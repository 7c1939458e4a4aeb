"""A part of the fault suite, the same each time; tests/benchmarks/fault_suite.py has it at full length."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from random import Random
from types import ModuleType
from typing import Any

import pytest

# Four stands whose probes speak seldom, so that their weeks pass quickly: 60 s, 300 s and twice 900 s.
STANDS = (8, 11, 29, 37)
# What is named in time, and whoever is not woken by it: never fewer.
NAMED = {49, 50, 51, 69, 176, 177, 222}
NOT_WOKEN = {48, 51, 52, 69, 70, 176, 177, 178, 222, 223, 225}


@pytest.fixture(scope="module")
def suite(script: Callable[[str], ModuleType]) -> ModuleType:
    return script("fault_suite")


@pytest.fixture(scope="module")
def results(suite: ModuleType) -> dict[int, Any]:
    numbers = [n for n in range(suite.CASES) if n // suite.CASES_A_STAND in STANDS]
    found, _, _ = suite.run(numbers, with_events=False)
    return {result.number: result for result in found}


def test_the_part_has_every_class(suite: ModuleType, results: dict[int, Any]) -> None:
    assert {result.sort for result in results.values()} == set(suite.SORTS)


@pytest.mark.parametrize("number", sorted(NAMED))
def test_a_failing_instrument_is_named_in_time(results: dict[int, Any], number: int) -> None:
    result = results[number]
    assert result.named_min is not None, result


@pytest.mark.parametrize("number", sorted(NOT_WOKEN))
def test_nobody_is_woken_by_it(results: dict[int, Any], number: int) -> None:
    result = results[number]
    assert (result.wakes, result.wakes_after) == ((), ()), result


def test_a_case_that_branches_off_a_saved_memory_is_the_case_folded_in_one_go(script: Any) -> None:
    cases, folds, ponds = script("fault_cases"), script("fault_fold"), script("fault_ponds")
    stand = ponds.draw(1, 11)
    data = ponds.series(stand, cases.days_needed([68]))
    case = cases.case(1, 68, stand, data)

    def fall() -> Any:
        return folds.Fall(case.fault.make(Random(case.seed)), case.first, case.last)

    pipe = stand.pipeline()
    whole = folds.fold(pipe, stand, data, 0, case.end, fall())
    pipe = stand.pipeline()
    folds.fold(pipe, stand, data, 0, case.first)
    memory = json.dumps(pipe.save())
    pipe = stand.pipeline()
    pipe.restore(json.loads(memory))
    branched = folds.fold(pipe, stand, data, case.first, case.end, fall())
    assert branched.raised == [row for row in whole.raised if row[0] >= data.at[case.first]] != []


@pytest.mark.parametrize(
    ("shown", "acid"),
    [
        ([6.5, 6.4, 6.41, 6.1], True),
        ([6.5, 6.5, 6.5], True),
        ([6.5, 6.4, 6.8, 6.1], False),  # it came up
        ([7.9, 8.2, 7.0], False),
        ([8.4, 8.4], False),  # it did not fall
        ([], False),
    ],
)
def test_a_fall_one_way_at_a_lone_slow_probe_is_like_acid(script: Any, shown: list[float], acid: bool) -> None:
    cases, ponds = script("fault_cases"), script("fault_ponds")
    stand = replace(ponds.draw(1, 11), interval_ms=300_000, twin=False)
    assert cases.is_like_acid(stand, 7.9, shown) is acid
    assert not cases.is_like_acid(replace(stand, twin=True), 7.9, shown)
    assert not cases.is_like_acid(replace(stand, interval_ms=60_000), 7.9, shown)


def test_an_alarm_that_the_healthy_run_has_as_well_is_not_the_faults(script: Any) -> None:
    folds = script("fault_fold")
    hour = 3_600_000
    healthy = folds.Record([(10 * hour, "ph-low", "ph", "high")])
    failing = folds.Record(
        [
            (11 * hour, "ph-low", "ph", "high"),  # the same, an hour later
            (11 * hour, "ph-low", "twin", "high"),
            (14 * hour, "ph-low", "ph", "high"),
            (14 * hour, "ph-high", "ph", "low"),  # never wakes
            (14 * hour, "probe-suspect", "ph", "medium"),  # not about the pond
        ]
    )
    found = folds.new_wakes(failing, healthy, 9 * hour, 20 * hour)
    assert found == [(11 * hour, "ph-low", "twin"), (14 * hour, "ph-low", "ph")]
