from __future__ import annotations

import json
from math import exp, sin

import pytest

from dawnline.electrode.calibration import MV
from dawnline.electrode.stability import Stability

S = 1000


def settle(tau_s: float, interval_s: int = 1, *, quantity: str = "ph", noise: float = 0.005) -> tuple[int, float, int]:
    """Seconds until it is stable, the value then, and the settling time [s], from pH 8 into a buffer of 7."""
    stability = Stability(quantity)
    unit = -59.16 if quantity == MV else 1.0
    for n in range(0, 1800, interval_s):
        true = 7.0 + exp(-n / tau_s) + noise * sin(12.9 * n)
        stability.push(n * S, true * unit)
        if stability.stable:
            assert stability.settling_ms is not None
            return n, stability.value / unit, stability.settling_ms // S
    raise AssertionError("never stable")


@pytest.mark.parametrize("quantity", ["ph", MV])
@pytest.mark.parametrize("interval_s", [1, 5, 10, 20])
def test_a_healthy_electrode_is_steady_in_two_minutes(quantity: str, interval_s: int) -> None:
    seconds, value, _ = settle(10, interval_s, quantity=quantity)
    assert 60 <= seconds <= 120
    assert value == pytest.approx(7.0, abs=0.02)


def test_a_slow_electrode_shows() -> None:
    quick, slow = settle(10), settle(90)
    assert slow[2] > 3 * 60 > quick[2]
    assert slow[1] == pytest.approx(7.0, abs=0.05)


def test_a_probe_that_speaks_once_a_minute() -> None:
    seconds, value, _ = settle(10, 60)
    assert seconds == 180 + 60
    assert value == pytest.approx(7.0, abs=0.02)


def test_drift_is_not_steady_however_small_the_spread() -> None:
    stability = Stability("ph")
    for n in range(600):
        stability.push(n * S, 7.0 + 0.03 * n / 60)
        assert not stability.stable
    assert stability.drift == pytest.approx(0.03)
    assert stability.spread < 0.05


def test_noise_is_not_steady_however_small_the_drift() -> None:
    stability = Stability("ph")
    for n in range(600):
        stability.push(n * S, 7.0 + 0.04 * (-1) ** n)
    assert abs(stability.drift) < 0.02
    assert not stability.stable
    assert stability.settling_ms is None


def test_few_readings_say_nothing() -> None:
    stability = Stability("ph")
    assert not stability.stable
    for n in range(59):
        stability.push(n * S, 7.0)
        stability.push(n * S, 9.0)  # not newer: no news
    assert not stability.stable
    stability.push(60 * S, 7.0)
    assert stability.stable
    assert stability.value == 7.0


def test_in_pieces_as_in_one_go() -> None:
    whole, piece = Stability("ph"), Stability("ph")
    for n in range(300):
        value = 7.0 + exp(-n / 30)
        whole.push(n * S, value)
        piece.push(n * S, value)
        saved = json.loads(json.dumps(piece.save()))
        piece = Stability("ph")
        piece.restore(saved)
    assert piece.save() == whole.save()
    assert piece.stable == whole.stable
