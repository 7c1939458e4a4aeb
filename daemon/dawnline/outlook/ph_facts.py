"""The facts behind the alarms of one pH probe, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import beyond_limit

if TYPE_CHECKING:
    from dawnline.outlook.ph_watch import PhWatch


OF_THE_PROBE: Final = ("calibration-due", "probe-suspect")


def fact(watch: PhWatch, alarm: str, condition: Condition, at: int) -> Finding:
    """What `watch` has to say of `alarm` at `at` [ms]; of the limits only where a pH is known.

    Of the pond it says, where something speaks against the probe, what that is.
    """
    found = _fact(watch, alarm, condition, at)
    if alarm in OF_THE_PROBE or condition is not Condition.MET or (why := _doubt(watch, at)) is None:
        return found
    return found._replace(evidence=f"{found.evidence}; but the probe is doubted: {why}")


def _doubt(watch: PhWatch, at: int) -> str | None:
    if watch.sick.condition(at, watch.judge) is Condition.MET:
        return watch.sick.evidence(at, watch.judge)
    return watch.doubt.evidence(at) if watch.doubt.stands(at) else None


def _fact(watch: PhWatch, alarm: str, condition: Condition, at: int) -> Finding:
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
    lasts = {"stood": seen - watch.lower_at, "interval": watch.interval}
    text, priority = beyond_limit(alarm, value, watch.limits, watch.rhythm.ordinary_low, **lasts)
    return Finding(alarm, probe, at, condition, value, text, priority, observed_at=seen)
