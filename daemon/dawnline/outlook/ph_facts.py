"""The facts behind the alarms of one pH probe, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import beyond_limit

if TYPE_CHECKING:
    from dawnline.outlook.ph_watch import PhWatch


def fact(watch: PhWatch, alarm: str, condition: Condition, at: int) -> Finding:
    """What `watch` has to say of `alarm` at `at` [ms]; of the limits only where a pH is known."""
    probe, value, seen = watch.probe, watch.current, watch.current_at
    if alarm == "calibration-due":
        text = "; ".join(watch.electrode.reasons) or "not due any more"
        return Finding(alarm, probe, at, condition, None, text)
    if alarm == "probe-suspect":
        return Finding(alarm, probe, at, condition, value, watch.doubt.evidence(at))
    if alarm == "night-slide":
        return watch.slide.finding(condition, at)
    if alarm == "wide-swing":
        swing, wide = watch.swing.figure(at), watch.limits.swing_wide
        text = "" if swing is None else f"pH moved by {swing:.2f} in 24 hours; {wide:g} is wide"
        return Finding(alarm, probe, at, condition, swing, text, observed_at=seen)
    assert value is not None
    value -= watch.doubt.hand.error(at)
    if alarm == "sudden-drop":
        text = watch.drop.evidence() if watch.drop.worst else f"the fall has ended, at pH {value:.2f}"
        return Finding(alarm, probe, at, condition, value, text, since=watch.drop.since, observed_at=seen)
    stood = seen - watch.lower_at
    text, priority = beyond_limit(alarm, value, watch.limits, watch.rhythm.ordinary_low, stood)
    return Finding(alarm, probe, at, condition, value, text, priority, observed_at=seen)
