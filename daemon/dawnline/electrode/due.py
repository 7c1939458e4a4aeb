"""Whether a calibration is due, and why: age, slope, disagreement with hand tests or checks, never calibrated."""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, show_duration
from dawnline.electrode.acceptance import SLOPE_FIT
from dawnline.electrode.calibration import MV
from dawnline.electrode.history import History
from dawnline.electrode.settings import CalibrationSettings

AGE_MS: Final = 30 * DAY_MS  # common practice, no source
PROBE_PH: Final = 0.2  # what a probe may be off before it is to be calibrated: TM 1-D3's criterion, from memory
AGREE: Final = 2  # hand tests in a row that must say the same
LEAST_SLOPE: Final = 90.0  # percent: near the end of the acceptance range; common practice, no source


def due(history: History, at: int, settings: CalibrationSettings | None = None) -> list[str]:
    """Every reason for calibrating the probe at `at` [ms], in words; none where nothing is due.

    A probe of finished pH that was never calibrated here is not judged by its age, unless that is configured.
    """
    settings = settings or CalibrationSettings()
    return [*_age(history, at, settings), *_slope(history), *_hand_tests(history, settings), *_checks(history)]


def _age(history: History, at: int, settings: CalibrationSettings) -> list[str]:
    now = history.in_force
    if now.never:
        wanted = now.quantity == MV or settings.due_after is not None
        return ["it was never calibrated"] if wanted else []
    limit = settings.due_after or AGE_MS
    if at - now.at <= limit:
        return []
    return [f"the last calibration is {show_duration(at - now.at)} old, {show_duration(limit)} is the limit"]


def _slope(history: History) -> list[str]:
    slope = history.in_force.slope
    if slope >= LEAST_SLOPE:
        return []
    return [f"the slope is down to {slope:.1f} %; {SLOPE_FIT[0]:g} to {SLOPE_FIT[1]:g} is healthy: clean it, calibrate"]


def _hand_tests(history: History, settings: CalibrationSettings) -> list[str]:
    """The latest tests by hand all say the same, by more than a probe may be off and half a step of the kit."""
    rows = [row for row in history.hand_tests if row.at > history.in_force.at][-AGREE:]
    off = [row.by_probe - row.by_hand for row in rows]
    allowed = PROBE_PH + settings.hand_test_step / 2
    if len(off) < AGREE or not (min(off) > allowed or max(off) < -allowed):
        return []
    return [f"the last {AGREE} tests by hand differ from it by {off[0]:+.2f} and {off[1]:+.2f} pH"]


def _checks(history: History) -> list[str]:
    check = history.checks[-1] if history.checks else None
    if check is None or check.at <= history.in_force.at or abs(check.error) <= PROBE_PH:
        return []
    return [f"it read pH {check.read_ph:.2f} in a buffer of {check.buffer_ph:.2f}"]
