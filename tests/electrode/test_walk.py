from __future__ import annotations

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.electrode.buffers import BUFFERS, Buffer
from dawnline.electrode.calibration import IDEAL, MV, Calibration, fit
from dawnline.electrode.walk import Step, Walk
from dawnline.errors import InputError
from dawnline.logbook.acts import read

EMV = IDEAL[MV]
GLASS = Calibration(MV, 96.0, -8.0)
S7, S10 = BUFFERS["7.00"], BUFFERS["10.01"]
CELSIUS = 20.0


def settle(walk: Walk, glass: Calibration = GLASS, begin: int = 1_000_000) -> int:
    """Readings of a quick electrode until it is steady; the time then."""
    for second in range(600):
        at = begin + 1000 * second
        if walk.see(at, glass.measured(walk.buffer.ph(CELSIUS), CELSIUS) + (5.0 if second < 20 else 0.0)):
            return at
    raise AssertionError("never steady")


def at_step(step: Step) -> Walk:
    walk = Walk("ph", EMV, [S7])
    if step in (Step.SETTLE, Step.DECIDE, Step.REPLACE):
        walk.immersed(CELSIUS)
    if step in (Step.DECIDE, Step.REPLACE):
        settle(walk)
    if step is Step.REPLACE:
        walk.decide(keep=True)
    if step is Step.STOPPED:
        walk.stop()
    assert walk.step is step
    return walk


def test_two_buffers_kept() -> None:
    walk = Walk("ph", EMV, [S7, S10])
    for buffer in (S7, S10):
        assert walk.step is Step.IMMERSE
        assert walk.buffer is buffer
        walk.immersed(CELSIUS)
        settle(walk)
    assert walk.step is Step.DECIDE
    assert walk.outcome() is None
    found, judgement = walk.found()
    assert found is not None
    assert (found.slope, found.offset) == pytest.approx((96.0, -8.0), abs=0.01)
    assert judgement.kept
    walk.decide(keep=True)
    outcome = walk.outcome()
    assert outcome is not None
    kind, body = outcome
    assert kind == "calibrated"
    assert read(kind, body)
    assert 15 <= body["settled_s"] <= 30
    assert fit(walk.points, 0, EMV).slope == found.slope
    assert walk.step is Step.REPLACE


def test_a_check_has_nothing_to_decide() -> None:
    walk = Walk("ph", GLASS, [S7], adjust=False)
    walk.immersed(CELSIUS)
    settle(walk)
    assert walk.step is Step.REPLACE
    outcome = walk.outcome()
    assert outcome is not None
    assert outcome[0] == "buffer-check"
    assert read(*outcome)
    assert outcome[1]["buffer_ph"] == 7.02


@pytest.mark.parametrize("step", list(Step))
def test_stopped_at_any_step(step: Step) -> None:
    walk = at_step(step)
    walk.stop()
    assert walk.step is Step.STOPPED


@pytest.mark.parametrize("step", list(Step))
def test_what_does_not_belong_to_a_step_is_refused_and_changes_nothing(step: Step) -> None:
    moves = {
        Step.IMMERSE: lambda walk: walk.immersed(CELSIUS),
        Step.SETTLE: lambda walk: walk.see(0, 1.0),
        Step.DECIDE: lambda walk: walk.decide(keep=True),
    }
    for belongs, move in moves.items():
        if belongs is not step:
            walk = at_step(step)
            with pytest.raises(InputError, match="not now"):
                move(walk)
            assert walk.step is step


def test_a_refused_calibration_cannot_be_kept() -> None:
    walk = Walk("ph", EMV, [S7])
    walk.immersed(CELSIUS)
    settle(walk, Calibration(MV, 100.0, 45.0))
    with pytest.raises(InputError, match="offset at pH 7"):
        walk.decide(keep=True)
    walk.decide(keep=False)
    assert walk.outcome() is None


def test_a_probe_that_was_never_moved() -> None:
    walk = Walk("ph", EMV, [S7, S10])
    for _ in range(2):
        walk.immersed(CELSIUS)
        for second in range(70):
            if walk.see(1000 * second, -10.0):
                break
    found, judgement = walk.found()
    assert found is None
    assert "the same in every buffer" in str(judgement)


def test_a_slow_electrode_is_remarked() -> None:
    walk = Walk("ph", EMV, [S7])
    walk.immersed(CELSIUS)
    for second in range(1200):
        if walk.see(1000 * second, 60.0 * 0.99**second):
            break
    assert "clean it" in str(walk.found()[1])


def test_a_probe_that_speaks_seldom_has_the_time_it_needs() -> None:
    walk = Walk("ph", EMV, [S7, S10])
    assert walk.lasts == 30 * MINUTE_MS
    walk.every = 5 * MINUTE_MS
    at, began = 0, 0
    for value in (-1.0, -170.0):
        walk.immersed(CELSIUS)
        while walk.step is Step.SETTLE:
            at += walk.every
            assert not walk.waits_in_vain(at)
            walk.see(at, value + 20.0 * 0.2 ** ((at - began) // walk.every))
        began = at
    assert walk.step is Step.DECIDE
    assert at <= walk.lasts == 120 * MINUTE_MS
    assert walk.found()[1].remarks == ()


def test_waiting_in_vain_is_noticed() -> None:
    walk = Walk("ph", EMV, [S7])
    walk.immersed(CELSIUS)
    for second in range(0, 700, 5):
        walk.see(1000 * second, 30.0 * (-1) ** (second // 5))
        assert walk.waits_in_vain(1000 * second) is (second > 600)


def test_a_clock_that_is_set_meanwhile_makes_no_steady_minute() -> None:
    walk = Walk("ph", EMV, [S7])
    walk.immersed(CELSIUS)
    for second in range(20):
        assert not walk.see(1000 * second, -10.0, clock_set=False)
    later = 60_000_000_000  # two years on, a second after
    steady = [walk.see(later + 1000 * second, -10.0) for second in range(61)]
    assert steady == [False] * 60 + [True]
    assert walk.settling_ms == [0]


def test_a_buffer_too_warm_for_its_table() -> None:
    walk = Walk("ph", EMV, [Buffer("7.01", ((15.0, 7.04), (30.0, 7.0)))])
    with pytest.raises(InputError, match="from 15 to 30"):
        walk.immersed(31.0)
    assert walk.step is Step.IMMERSE


@pytest.mark.parametrize("adjust", [True, False])
@pytest.mark.parametrize("buffers", [[], [S7, BUFFERS["phosphate"]], [S7, S10, BUFFERS["4.00"], BUFFERS["borax"]]])
def test_buffers_that_give_no_calibration(buffers: list[Buffer], adjust: bool) -> None:
    with pytest.raises(InputError):
        Walk("ph", EMV, buffers, adjust=adjust)
