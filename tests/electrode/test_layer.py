from __future__ import annotations

from datetime import UTC
from typing import Any

import pytest

from dawnline.duration import DAY_MS, iso
from dawnline.electrode.calibration import MV, Calibration
from dawnline.electrode.drift import Grade
from dawnline.electrode.layer import Layer
from dawnline.event import Act, Day
from dawnline.logbook.ledger import standing
from dawnline.review.corrected import corrected

AT = 1_780_000_000_000


def act(day: float, kind: str, **body: Any) -> Act:
    return Act(f"{kind}-{day}", AT + round(day * DAY_MS), kind, {"probe": "ph", **body})


def layer(*done: Act, quantity: str = "ph") -> Layer:
    return Layer("ph", quantity, done)


def at(day: float) -> int:
    return AT + round(day * DAY_MS)


def said(number: float) -> str:
    return iso(at(number), UTC)


def test_twenty_days_between_two_visits() -> None:
    """The worked table of test_drift.py again, from the acts of a keeper."""
    found = layer(
        act(0, "calibrated", points=[[7.02, 7.02, 20]]),
        act(20, "cleaning", before=8.16, after=8.20, meter_before=8.25, meter_after=8.25),
        act(20, "buffer-check", buffer_ph=7.02, measured=6.86, temperature_c=20),
    )
    for day, raw, expected in ((0, 7.8, 7.8), (5, 7.9, 7.95), (10, 8.0, 8.1), (15, 8.1, 8.25), (20, 8.2, 8.4)):
        assert found.correct(at(day), raw).value == pytest.approx(expected)
        assert found.correct(at(day), raw).grade is Grade.EXCELLENT
    assert found.known(at(20))
    assert not found.known(at(20.1))
    assert found.correct(at(21), 8.0) == (8.0, 0.0, 0.0)
    assert found.visits(at(0), at(30)) == [at(20)]


def test_visits_noted_late_in_the_wrong_order_and_put_right() -> None:
    """The same twenty days: the cleaning is noted a day late and mistyped, then corrected; another is withdrawn."""
    noted = Act("c", at(21), "cleaning", {"probe": "ph", "when": said(20), "before": 3.16, "after": 8.20})
    body = {"probe": "ph", "when": said(20), "before": 8.16, "after": 8.20, "meter_before": 8.25, "meter_after": 8.25}
    done = [
        act(0, "calibrated", points=[[7.02, 7.02, 20]]),
        act(20, "buffer-check", buffer_ph=7.02, measured=6.86, temperature_c=20),
        noted,
        Act("w", at(22), "cleaning", {"probe": "ph", "when": said(10), "before": 7.0, "after": 9.5}),
    ]
    assert layer(*standing(done)).correct(at(15), 8.1).grade is Grade.BEYOND
    done += [
        Act("x", at(23), "correct", {"entry": "c", "kind": "cleaning", "at": said(21), "body": body}),
        Act("y", at(23), "withdraw", {"entry": "w", "at": said(22)}),
    ]
    found = layer(*standing(done))
    for moment, raw, expected in ((5, 7.9, 7.95), (10, 8.0, 8.1), (15, 8.1, 8.25), (20, 8.2, 8.4)):
        assert found.correct(at(moment), raw).value == pytest.approx(expected)


def test_a_correction_leads_over_to_the_new_calibration() -> None:
    """What the record says just before, corrected, is what the new calibration says just after."""
    found = layer(
        act(0, "calibrated", points=[[7.0, 0.0, 25], [10.0, -177.0, 25]]),
        act(30, "calibrated", points=[[7.0, 9.0, 25], [10.0, -160.0, 25]]),
        quantity=MV,
    )
    for mv in (-100.0, -40.0):
        before, after = found.in_force(at(30) - 1).ph(mv, 25.0), found.in_force(at(30)).ph(mv, 25.0)
        assert found.correct(at(30), before).value == pytest.approx(after)
        assert found.correct(at(15), before).value == pytest.approx((before + after) / 2)


def test_what_a_check_finds_stays_until_somebody_adjusts() -> None:
    found = layer(
        act(0, "calibrated", points=[[7.0, 7.0, 25]]),
        act(10, "buffer-check", buffer_ph=7.0, measured=7.2, temperature_c=25),
        act(20, "calibrated", points=[[7.0, 7.3, 25]]),
    )
    assert [found.correct(at(day), 7.5).drift for day in (5, 10, 15, 20)] == pytest.approx([-0.1, -0.2, -0.25, -0.3])
    assert found.in_force(at(19)).offset == 0.0
    assert found.in_force(at(20)).offset == pytest.approx(0.3)


def test_one_visit_alone_corrects_nothing() -> None:
    found = layer(act(5, "calibrated", points=[[7.0, 7.3, 25]]))
    assert found.in_force(at(4)).never
    assert not any(found.known(at(day)) for day in (0, 5, 6))


def test_acts_elsewhere_and_acts_that_say_nothing() -> None:
    found = layer(
        Act("a", AT, "calibrated", {"probe": "other", "points": [[7.0, 7.3, 25]]}),
        Act("b", AT, "note", {"note": "rain"}),
        act(1, "cleaning"),
        act(2, "cleaning", before=7.0, after=7.1),
        act(3, "calibrated", points=[[7.0, 7.0, 25], [7.0, 7.0, 25]]),  # no calibration follows from it
    )
    assert found.in_force(at(9)).never
    assert found.correct(at(2), 7.0).fouling == pytest.approx(0.1)
    assert found.correct(at(1.5), 7.0).fouling == pytest.approx(0.05)


def day(number: int, low: float | None = 7.0) -> tuple[Day, tuple[int, int]]:
    start = at(number)
    figures = Day(f"2026-06-{number + 1:02}", "ph", low, None if low is None else start + DAY_MS // 4, 7.6,
                  start + 3 * DAY_MS // 4, 0.6, 7.3, 0.0, 0.0, 1.0, False)  # fmt: skip
    return figures, (start, start + DAY_MS)


def test_days_corrected_and_graded_by_their_worst() -> None:
    found = layer(
        act(1, "calibrated", points=[[7.0, 7.0, 25]]),
        act(5, "calibrated", points=[[7.0, 7.4, 25]]),
    )
    days, bounds = zip(*(day(n, None if n == 3 else 7.0) for n in range(7)), strict=True)
    result = corrected(days, found, bounds)
    assert result.days[0].dawn_low is None  # before the first visit nothing is known
    assert result.days[2].dawn_low == pytest.approx(7.0 - 0.4 * 1.25 / 4)
    assert result.days[3].dawn_low is None
    assert result.days[3].dusk_high == pytest.approx(7.6 - 0.4 * 2.75 / 4)
    assert result.days[6].dawn_low is None
    assert result.worst == pytest.approx(0.4)
    assert str(result) == "ph: good, corrected by up to 0.40 pH"


def test_no_grade_without_visits() -> None:
    result = corrected([day(0)[0]], layer(), [day(0)[1]])
    assert (result.grade, result.worst) == (None, None)
    assert "no grade" in str(result)


def test_beyond_correction() -> None:
    found = layer(
        act(0, "buffer-check", buffer_ph=7.0, measured=7.0), act(2, "buffer-check", buffer_ph=7.0, measured=9.2)
    )
    result = corrected([day(0)[0], day(1)[0]], found, [day(0)[1], day(1)[1]])
    assert result.grade is Grade.BEYOND
    assert result.days[1].dusk_high == pytest.approx(7.6 - 2.2 * 1.75 / 2)
    assert "beyond correction" in str(result)


def test_millivolts_at_their_temperature() -> None:
    found = layer(act(0, "calibrated", points=[[7.0, 5.0, 10.0]]), quantity=MV)
    assert found.in_force(at(1)).ph(Calibration(MV, 100.0, 5.0).measured(8.0, 10.0), 10.0) == pytest.approx(8.0)


def test_across_a_calibration_at_the_transmitter_nothing_is_spread() -> None:
    found = layer(
        act(0, "calibrated", points=[[7.02, 7.42, 20]]),
        act(10, "adjusted"),
        act(20, "buffer-check", buffer_ph=7.02, measured=6.82, temperature_c=20),
    )
    assert not found.known(at(5))
    assert found.correct(at(5), 8.0) == (8.0, 0.0, 0.0)  # by how much it was off then, nobody said
    assert found.correct(at(15), 8.0).value == pytest.approx(8.1)
    assert found.visits(at(0), at(30)) == [at(20)]
    assert (found.in_force(at(5)).offset, found.in_force(at(15)).offset) == (pytest.approx(0.4), 0.0)
