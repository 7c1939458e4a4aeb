"""The kill test and the live run beside its replay, in short; tests/benchmarks has them at full length."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from types import ModuleType

import pytest


@pytest.fixture
def broker() -> None:
    """A test that needs one."""
    if shutil.which("mosquitto") is None and shutil.which("mosquitto", path="/usr/sbin") is None:
        reason = "needs the program mosquitto, which is not installed"
        pytest.fail(reason) if os.environ.get("DAWNLINE_TEST_ALL") == "1" else pytest.skip(reason)


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
def test_the_live_run_equals_its_replay(script: Callable[[str], ModuleType]) -> None:
    result = script("week_live").run("wire-breaks", days=2.7, rate=14_000, seed=3, interval="60s")
    assert result.differences == []
    assert result.days >= 1
    assert result.alarms >= 4
    assert result.readings > 2000
