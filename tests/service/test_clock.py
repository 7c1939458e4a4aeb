from __future__ import annotations

import time
from itertools import pairwise

import pytest
from structlog.testing import capture_logs

from dawnline.catalogue_file import shipped
from dawnline.errors import SettingsError
from dawnline.event import Transition
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Arrival, Batch, Intake
from dawnline.service.clock import VARIABLE, PondClock, SteadyClock, from_environment

from ..pond import POND

HOUR_MS = 3_600_000
T0 = 1_780_000_000_000


class Machine:
    """A machine whose clocks we turn by hand."""

    def __init__(self) -> None:
        self.wall_ms, self.steady_s, self.rate = T0, 50.0, 1.0

    def now(self) -> int:
        return self.wall_ms

    def machine_seconds(self, pond_ms: float) -> float:
        return pond_ms / 1000

    def pass_ms(self, ms: int) -> None:
        self.wall_ms += ms
        self.steady_s += ms / 1000


def steady(machine: Machine, last: int | None = None) -> SteadyClock:
    return SteadyClock(machine, last, lambda: machine.steady_s)  # type: ignore[arg-type]


def wall_ms() -> int:
    """The machine's time; what is asked between two looks at it lies between them."""
    return int(time.time() * 1000)


def test_without_the_variable_pond_time_is_the_machines() -> None:
    clock = from_environment({})
    assert clock.rate == 1.0
    before = wall_ms()
    assert before <= clock.now() <= wall_ms() + 1


def test_a_rate_makes_time_run_faster_from_now_on() -> None:
    before = wall_ms()
    clock = from_environment({VARIABLE: "3600"})
    assert clock.rate == 3600
    assert 0 <= clock.now() - before <= 3600 * (wall_ms() + 1 - before)
    assert clock.machine_seconds(HOUR_MS) == 1.0


def test_a_shared_clock_has_its_origins_from_the_variable() -> None:
    before = wall_ms()
    clock = from_environment({VARIABLE: f"60@2026-06-13T21:00:00+02:00@{before / 1000 - 10}"})
    passed_ms = clock.now() - 1_781_377_200_000
    assert 600_000 - 60 <= passed_ms <= 60 * (wall_ms() + 1 - before) + 600_000
    assert clock.going_on_from(clock.now() + HOUR_MS) is clock


def test_a_scaled_clock_goes_on_where_the_record_ends() -> None:
    ahead = from_environment({VARIABLE: "60"}).now() + 100 * HOUR_MS
    assert from_environment({VARIABLE: "60"}).going_on_from(ahead).now() >= ahead
    assert PondClock().going_on_from(ahead).now() < ahead


@pytest.mark.parametrize("text", ["fast", "0", "-1", "1e9", "60@x@1", "60@2026-06-13T21:00Z", "60@2026-06-13T21:00Z@y"])
def test_what_cannot_be_read_is_said(text: str) -> None:
    with pytest.raises(SettingsError, match=VARIABLE):
        from_environment({VARIABLE: text})


def test_a_clock_set_back_stops_nothing() -> None:
    machine = Machine()
    clock = steady(machine)
    machine.pass_ms(60_000)
    assert clock.now() == T0 + 60_000
    machine.wall_ms -= 2 * HOUR_MS
    machine.pass_ms(60_000)
    assert clock.now() == T0 + 60_000 + 54_000  # nine tenths of the usual pace
    assert clock.behind_ms == 2 * HOUR_MS
    machine.pass_ms(HOUR_MS)
    assert clock.now() == T0 + 114_000 + 9 * HOUR_MS // 10


def test_a_clock_set_back_by_an_hour_is_caught_up_with_in_ten() -> None:
    machine = Machine()
    clock = steady(machine)
    machine.wall_ms -= HOUR_MS
    times = []
    for _ in range(11 * 60):
        machine.pass_ms(60_000)
        times.append(clock.now())
    assert clock.behind_ms == 0
    assert times[-1] == machine.wall_ms
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert min(gaps) >= 44_000  # the last ten seconds are a small step
    assert sum(gap == 54_000 for gap in gaps) > 590


def test_that_the_clock_is_behind_is_logged_once() -> None:
    machine = Machine()
    clock = steady(machine)
    with capture_logs() as logged:
        machine.wall_ms -= HOUR_MS
        for _ in range(3):
            machine.pass_ms(1_000)
            clock.now()
        machine.wall_ms += HOUR_MS
        clock.now()
    assert [row["event"] for row in logged] == ["clock-behind-the-record", "clock-has-caught-up"]
    assert logged[0]["by"] == "1 h"


def test_when_the_clock_has_caught_up_it_counts_again() -> None:
    machine = Machine()
    clock = steady(machine)
    machine.wall_ms -= HOUR_MS
    machine.pass_ms(1_000)
    assert clock.now() == T0 + 900
    assert clock.behind_ms == HOUR_MS
    machine.wall_ms += 2 * HOUR_MS
    machine.pass_ms(1_000)
    assert (clock.now(), clock.behind_ms) == (machine.wall_ms, 0)


def test_a_step_forward_is_followed_and_a_small_one_back_as_well() -> None:
    machine = Machine()
    clock = steady(machine)
    machine.wall_ms += 30 * HOUR_MS
    assert clock.now() == machine.wall_ms
    machine.wall_ms -= 5_000
    assert (clock.now(), clock.behind_ms) == (machine.wall_ms, 0)


def test_a_board_that_wakes_up_in_the_past_goes_on_from_its_record() -> None:
    machine = Machine()
    clock = steady(machine, last=T0 + 1000 * HOUR_MS)
    machine.pass_ms(60_000)
    assert clock.now() == T0 + 1000 * HOUR_MS + 54_000
    assert clock.behind_ms == 1000 * HOUR_MS


def test_after_the_clock_was_set_back_the_watch_still_wakes_somebody() -> None:
    machine = Machine()
    clock = steady(machine)
    intake = Intake(clock.now)
    pond = POND
    pipeline = Pipeline(shipped(), pond, [("ph", "ph", None, None)])
    raised: dict[str, int] = {}
    for number in range(240):
        machine.pass_ms(10_000)
        if number == 60:
            machine.wall_ms -= 3 * HOUR_MS
        value = 7.1 - 0.01 * max(0, number - 60)  # it begins to fall as the clock is set back
        intake.put(Arrival("serial", (("ph", max(value, 6.3), None),)))
        batch = intake.take(0.0)
        assert isinstance(batch, Batch)
        for effect in pipeline.step(batch.samples[0]):
            if isinstance(effect, Transition) and effect.change == "raised":
                raised[effect.alarm] = number
    assert clock.behind_ms > 0
    low_at = 121  # below 6.5
    assert low_at + 60 <= raised["ph-low"] <= low_at + 75  # ten minutes of pond time take eleven
