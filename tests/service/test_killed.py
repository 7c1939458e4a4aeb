"""The kill test, the soak, the open doors and the live run beside its replay, in short: see tests/benchmarks."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import pytest

from ..machine import program


@pytest.fixture
def broker() -> None:
    """A test that needs one."""
    program("mosquitto")


@pytest.fixture
def metrics() -> None:
    """A test that needs a database of readings."""
    program("victoria-metrics")


@pytest.mark.slow
@pytest.mark.usefixtures("broker")
def test_killed_while_an_unset_clock_becomes_known(script: Callable[[str], ModuleType]) -> None:
    result = script("kill_unset").run(trials=1, seed=3)
    assert result.well, result
    assert result.published > 100


@pytest.mark.slow
@pytest.mark.usefixtures("broker")
def test_killed_again_and_again_nothing_is_lost_or_doubled(script: Callable[[str], ModuleType]) -> None:
    result = script("kill").run(kills=15, seed=7)
    assert result.well, result
    assert result.published > 300


@pytest.mark.slow
@pytest.mark.usefixtures("broker", "metrics")
def test_three_days_of_faults_lose_and_double_nothing(script: Callable[[str], ModuleType]) -> None:
    result = script("soak").run(days=3, windows=3, seed=7, show=print)
    assert result.well, result.wrong
    assert len(result.faults) >= 3
    assert result.readings > 2000


@pytest.mark.slow
@pytest.mark.usefixtures("broker")
def test_nonsense_at_every_door_harms_nothing(script: Callable[[str], ModuleType]) -> None:
    found = script("open_doors").run(minutes=0.2, seed=5)
    assert found.wrong == []
    assert found.answers[200] > 0


@pytest.mark.slow
def test_the_live_run_equals_its_replay(script: Callable[[str], ModuleType]) -> None:
    result = script("week_live").run("wire-breaks", days=2.7, rate=14_000, seed=3, interval="60s")
    assert result.differences == []
    assert result.days >= 1
    assert result.alarms >= 4
    assert result.readings > 2000
