"""The window that is learned; the rule itself stands beside ioos_qc in test_oracle.py."""

from __future__ import annotations

import json
import random
from itertools import pairwise

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.quality.flat import BLOCK_MS, MOST, Flat
from dawnline.quality.judge import Judge
from dawnline.reading import Flag, Reason, Sample

T0 = 1_780_000_000_000


def ordinary() -> Flat:
    return Flat(0.005, floor=3 * HOUR_MS, cap=20 * HOUR_MS, fail=2 * DAY_MS)


def live(flat: Flat, begin: int, end: int, step: int, rest: int) -> None:
    """A probe whose value moves every `rest` ms."""
    for at in range(begin, end, step):
        flat.push(at, 7.5 + 0.01 * ((at - begin) // rest % 2))


@pytest.mark.parametrize(
    ("rest", "window"),
    [(MINUTE_MS, 3 * HOUR_MS), (40 * MINUTE_MS, 3 * HOUR_MS), (2 * HOUR_MS, 8 * HOUR_MS), (9 * HOUR_MS, 20 * HOUR_MS)],
)
def test_the_window_is_four_times_the_longest_rest_within_its_bounds(rest: int, window: int) -> None:
    flat = ordinary()
    live(flat, T0, T0 + 3 * DAY_MS, MINUTE_MS, rest)
    assert flat.window == window


def test_nothing_learned_counts_before_a_day_and_a_night() -> None:
    flat = ordinary()
    live(flat, T0, T0 + 23 * HOUR_MS, MINUTE_MS, MINUTE_MS)
    assert flat.window == 20 * HOUR_MS


def test_a_frozen_value_is_flagged_when_its_window_is_over_and_the_first_move_is_good() -> None:
    flat, frozen = ordinary(), T0 + 2 * DAY_MS
    live(flat, T0, frozen, 10_000, 10_000)
    flags = [(at, flat.push(at, 7.77)) for at in range(frozen, frozen + 60 * HOUR_MS, 10_000)]
    changes = [(b[0] - frozen, b[1]) for a, b in pairwise(flags) if a[1] != b[1]]
    assert changes == [
        (3 * HOUR_MS, (Flag.SUSPECT, Reason.FLAT)),
        (2 * DAY_MS, (Flag.FAIL, Reason.FLAT)),
    ]
    assert (flat.flagged, flat.since) == (True, frozen)
    assert flat.push(frozen + 60 * HOUR_MS, 7.78) == (Flag.GOOD, Reason.NONE)
    assert not flat.flagged


def test_a_rest_that_was_flagged_counts_a_quarter_more_and_no_longer() -> None:
    flat, frozen = ordinary(), T0 + 2 * DAY_MS
    live(flat, T0, frozen, MINUTE_MS, MINUTE_MS)
    live(flat, frozen, frozen + 4 * HOUR_MS, MINUTE_MS, 4 * HOUR_MS)
    flat.push(frozen + 4 * HOUR_MS, 7.6)
    assert flat.window == 5 * HOUR_MS


def test_a_pond_read_by_whole_tenths_is_accused_once() -> None:
    """Rests of 30 h are flagged once, the next time the window is longer; what failed for days teaches nothing."""
    flat, flagged = ordinary(), []
    for at in range(T0, T0 + 12 * DAY_MS, 10 * MINUTE_MS):
        flat.push(at, 7.5 + 0.1 * ((at - T0) // (30 * HOUR_MS) % 2))
        flagged.append(flat.flagged)
    assert sum(b and not a for a, b in pairwise(flagged)) == 1
    assert flat.window == 1.25 * 30 * HOUR_MS
    frozen = T0 + 12 * DAY_MS
    live(flat, frozen, frozen + 3 * DAY_MS, 10 * MINUTE_MS, 3 * DAY_MS)
    flat.push(frozen + 3 * DAY_MS, 7.7)
    assert flat.window == 1.25 * 30 * HOUR_MS


def test_what_was_learned_is_forgotten_after_two_blocks_of_days() -> None:
    flat = ordinary()
    live(flat, T0, T0 + 2 * DAY_MS, 10 * MINUTE_MS, 4 * HOUR_MS)
    assert flat.window == 16 * HOUR_MS
    live(flat, T0 + 2 * DAY_MS, T0 + 2 * DAY_MS + 2 * BLOCK_MS, 10 * MINUTE_MS, 20 * MINUTE_MS)
    assert flat.window == 3 * HOUR_MS


def test_silence_is_no_rest() -> None:
    flat = ordinary()
    live(flat, T0, T0 + 2 * DAY_MS, MINUTE_MS, MINUTE_MS)
    frozen = T0 + 2 * DAY_MS
    flat.push(frozen, 7.9)
    flat.skip(5 * HOUR_MS)
    assert flat.push(frozen + 5 * HOUR_MS, 7.9)[0] is Flag.GOOD
    assert flat.push(frozen + 8 * HOUR_MS, 7.9)[0] is Flag.SUSPECT


def test_a_slow_creep_keeps_a_bounded_memory() -> None:
    flat = ordinary()
    for i in range(5000):
        flat.push(T0 + i * 10_000, 7.5 + i * 1e-6)
    assert len(flat.highs) == 1
    assert len(flat.lows) <= MOST
    assert flat.since > T0


def test_a_flat_memory_in_pieces_is_the_same_memory() -> None:
    dice, whole = random.Random(4), ordinary()
    pieces = ordinary()
    for i in range(3000):
        value = round(7.5 + 0.002 * dice.randint(-2, 2) * (i // 500 % 2), 3)
        assert whole.push(T0 + i * MINUTE_MS, value) == pieces.push(T0 + i * MINUTE_MS, value)
        if i % 37 == 0:
            saved = json.loads(json.dumps(pieces.save()))
            pieces = ordinary()
            pieces.restore(saved)
    assert whole.save() == pieces.save()


def test_spikes_and_values_out_of_span_do_not_prove_a_frozen_probe_alive() -> None:
    judge = Judge("ph")
    for at in range(T0, T0 + 2 * DAY_MS, MINUTE_MS):
        judge.push(Sample("ph", at, 7.5 + 0.01 * (at // MINUTE_MS % 2), at))
    for number, at in enumerate(range(T0 + 2 * DAY_MS, T0 + 2 * DAY_MS + 4 * HOUR_MS, MINUTE_MS)):
        value = {0: 0.0, 1: 9.1}.get(number % 50, 7.5)
        verdict = judge.push(Sample("ph", at, value, at))
    assert verdict == (Flag.SUSPECT, Reason.FLAT)


def test_maintenance_begins_a_new_rest() -> None:
    judge = Judge("ph")
    for at in range(T0, T0 + 30 * HOUR_MS, MINUTE_MS):
        verdict = judge.push(Sample("ph", at, 7.5, at))
    assert verdict == (Flag.SUSPECT, Reason.FLAT)
    judge.forget()
    assert judge.push(Sample("ph", at + MINUTE_MS, 7.5, at + MINUTE_MS)) == (Flag.GOOD, Reason.NONE)


def test_behind_a_coarse_converter_a_day_on_one_count_accuses_nobody_and_two_days_do() -> None:
    judge, at, flags = Judge("ph"), T0, []
    for value in [7.4, 7.5] * 720 + [7.4] * 4320:
        at += 60_000
        verdict = judge.push(Sample("ph", at, value, at))
        assert verdict is not None
        flags.append(verdict[0])
    assert Flag.SUSPECT not in flags
    assert flags[-1] is Flag.FAIL


@pytest.mark.parametrize(("days", "accused"), [(8, False), (11, True)])
def test_behind_a_coarse_converter_a_pond_that_is_known_to_rest_may_do_so_for_days(days: int, accused: bool) -> None:
    judge, at, flags = Judge("ph"), T0, []
    for value in [7.4, 7.5] * 360 + [7.4] * 240 + [7.5] * 480 + [7.4] * (days * 1440):
        at += 60_000
        verdict = judge.push(Sample("ph", at, value, at))
        assert verdict is not None
        flags.append(verdict[0])
    assert (flags[-1] is Flag.FAIL) is accused
    assert flags.count(Flag.FAIL) <= 1440 * accused + 1


@pytest.mark.parametrize(("longest", "accused"), [(30, True), (90, False)])
def test_a_last_digit_that_flickered_within_each_hour_and_stands_still_for_hours_has_stopped(
    longest: int, accused: bool
) -> None:
    """Behind a coarse converter, too: unless it is known to rest, no count is still for eight times as long as ever."""
    judge, at, flags = Judge("ph"), T0, []
    for value in ([7.4, 7.5] * (720 - longest // 2) + [7.4] * longest) * 6 + [7.5] + [7.4] * 300:
        at += 60_000
        verdict = judge.push(Sample("ph", at, value, at))
        assert verdict is not None
        flags.append(verdict)
    assert ((Flag.SUSPECT, Reason.FLAT) in flags) is accused
