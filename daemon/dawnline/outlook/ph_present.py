"""How the present pH stands to each alarm about the water, and when its readings say nothing of the water yet.

The rule of this room: what may as well be the instrument's is told of as the instrument's, and what cannot is not held
back for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dawnline.electrode.drift import FAIR_TO
from dawnline.outlook.climb import NO_FALL_MS, NO_LOW_MS
from dawnline.outlook.finding import Condition
from dawnline.outlook.limits import high_side, low_side
from dawnline.quality.zigzag import RESTLESS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dawnline.outlook.ph_watch import PhWatch

_ALARMS: Final = ("ph-crash", "ph-low", "ph-high", "sudden-drop", "night-slide")
_ALL_UNKNOWN: Final = tuple((alarm, Condition.UNKNOWN) for alarm in _ALARMS)
BELOW_TWIN: Final = 0.1  # pH below what is usual beside the other probes: no forecast rests on it
GAINSAYS: Final = 0.1  # pH above ph_low
NEAR_LOW: Final = 0.3  # pH above ph_low that a fall must be heading for


def present(watch: PhWatch, at: int, deadbands: Mapping[str, float]) -> Sequence[tuple[str, Condition]]:
    """How the pH of `watch` stands at `at` [ms], alarm by alarm. `deadbands` are in pH."""
    value, limits = watch.current, watch.limits
    if value is None or not watch.live(at) or watch.doubt.overruled or watch.doubt.hand.too_far(at):
        return _ALL_UNKNOWN
    if _untold(watch, value, at):
        return _ALL_UNKNOWN
    value -= watch.doubt.hand.error(at)
    return [
        ("ph-crash", low_side(value, limits.ph_crash, deadbands["ph-crash"])),
        ("ph-low", low_side(value, limits.ph_low, deadbands["ph-low"])),
        ("ph-high", _high(watch, value, deadbands["ph-high"])),
        ("sudden-drop", _drop(watch, value)),
        ("night-slide", _slide(watch)),
    ]


def _untold(watch: PhWatch, value: float, at: int) -> bool:
    """Whether its readings say nothing of the pond, or not yet.

    A low pH is not believed yet where a newer reading, however odd, gainsays it, nor where the probe goes up and down:
    of a slow one once is enough, for acid takes pH down one way. Where another probe says the same it is believed.
    """
    judge, low = watch.judge, watch.limits.ph_low
    lost = watch.doubt.regained.lost or watch.ill(at) or judge.restless(at) or watch.twin.open
    if lost or value >= low:
        return lost
    odd = not judge.step.shifted and watch.newest_above(low + GAINSAYS)
    if watch.twin.agrees or _landed(watch, at):
        return odd
    if odd or judge.ragged.is_ragged(at, watch.interval):
        return True
    if judge.step.leapt(at) < 0.0:
        leapt_at = judge.step.leapt_at or 0
        turns = sum(turned > leapt_at for turned in judge.zigzag.turns)
        odd = odd or judge.step.came_up or turns >= RESTLESS or watch.turn.again_at > leapt_at
    return odd or watch.turn.bounced(at) or watch.drop.climb.upset(at, NO_LOW_MS)


def _drop(watch: PhWatch, value: float) -> Condition:
    """A fall that stands out concerns people where going on like this leads near the lower limit.

    One of which the water beside shares less than half is none, nor one that is coming up.
    """
    condition = watch.drop.condition()
    if condition is not Condition.MET:  # as nearly always
        return condition
    far = value - watch.drop.to_come(watch.grain) > watch.limits.ph_low + NEAR_LOW
    _, fall, usual = watch.drop.worst
    return _unless(watch, far or not watch.turn.lowest or watch.twin.unshared > (fall - max(usual, 0.0)) / 2)


def _slide(watch: PhWatch) -> Condition:
    """While its hours are known; one that lies below its twin forecasts nothing, nor one that goes up and down.

    From one as far off as makes a poor record only what passes the limit with some certainty is a forecast.
    """
    condition = watch.slide.condition() if watch.rhythm.learning else Condition.UNKNOWN
    if condition is not Condition.MET:
        return condition
    at = watch.current_at
    odd = watch.twin.mean < -BELOW_TWIN or watch.turn.bounced(at)
    return _unless(watch, odd or (not watch.slide.sure and abs(watch.doubt.hand.error(at)) > FAIR_TO))


def _unless(watch: PhWatch, odd: bool) -> Condition:
    """No fall is told of where it is odd or doubtful, nor while the series goes up and down; the limits go on."""
    at, judge, day = watch.current_at, watch.judge, watch.rhythm.day
    leapt = judge.step.leapt(at) < 0.0 and (judge.step.came_up or watch.turn.rose(at))
    up_and_down = leapt or not watch.turn.falling or judge.zigzag.restless or watch.drop.climb.upset(at, NO_FALL_MS)
    up_and_down = judge.ragged.comes_up(at, watch.interval) or (up_and_down and not _landed(watch, at))
    doubtful = watch.doubt.set_aside or watch.doubt.regained.just_ill(at, watch.interval)
    doubtful = doubtful or watch.sick.beside_a_leap(at, judge)
    odd = odd or up_and_down or doubtful or (day is not None and watch.drop.swings(day, watch.grain))
    return Condition.BETWEEN if odd else Condition.MET


def _landed(watch: PhWatch, at: int) -> bool:
    """Whether a slow probe leapt down lately and lies still since, as in water that acid is mixed into."""
    return watch.judge.step.leapt(at) < 0.0 and watch.judge.ragged.settled


def _high(watch: PhWatch, value: float, deadband: float) -> Condition:
    """A rise that water cannot make, from one reading to the next, is told of as the probe's."""
    leapt, high = max(watch.electrode.change_ph(watch.judge.step.wonder(watch.current_at)), 0.0), watch.limits.ph_high
    return Condition.UNKNOWN if value - leapt < high < value else high_side(value, high, deadband)
