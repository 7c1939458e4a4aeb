from __future__ import annotations

import time

import pytest

from dawnline.errors import SettingsError
from dawnline.service.clock import VARIABLE, PondClock, SteadyClock, from_environment

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


def test_without_the_variable_pond_time_is_the_machines() -> None:
    clock = from_environment({})
    assert clock.rate == 1.0
    assert abs(clock.now() - time.time() * 1000) < 1000


def test_a_rate_makes_time_run_faster_from_now_on() -> None:
    clock = from_environment({VARIABLE: "3600"})
    assert clock.rate == 3600
    assert abs(clock.now() - time.time() * 1000) < 3_600_000
    assert clock.machine_seconds(HOUR_MS) == 1.0


def test_a_shared_clock_has_its_origins_from_the_variable() -> None:
    origin = time.time() - 10
    clock = from_environment({VARIABLE: f"60@2026-06-13T21:00:00+02:00@{origin}"})
    assert clock.now() == pytest.approx(1_781_377_200_000 + 600_000, abs=5_000)
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
    assert clock.now() == T0 + 120_000
    assert clock.behind_ms == 2 * HOUR_MS
    machine.pass_ms(HOUR_MS)
    assert clock.now() == T0 + 120_000 + HOUR_MS


def test_when_the_clock_has_caught_up_it_counts_again() -> None:
    machine = Machine()
    clock = steady(machine)
    machine.wall_ms -= HOUR_MS
    machine.pass_ms(1_000)
    assert clock.now() == T0 + 1_000
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
    assert clock.now() == T0 + 1000 * HOUR_MS + 60_000
    assert clock.behind_ms == 1000 * HOUR_MS
