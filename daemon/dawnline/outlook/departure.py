"""Does tonight depart from what this pond does? Then the fall itself must carry the forecast.

What the night has gained of late in inorganic carbon is held against what earlier nights gained in the same phases, and
against how far that goes from night to night. A surplus of breathing over exchange goes on at its rate, while the
exchange that is left takes some of it away.

Thresholds and the rate of exchange were set on simulated ponds and on public lake and stream records; no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean, median
from typing import Final, NamedTuple

from dawnline.duration import HOUR_MS
from dawnline.outlook.carbon import carbon_of, ph_of, relaxing
from dawnline.outlook.night import Night, value_at

MAD_TO_SD: Final = 1.4826
EXCHANGE_PER_HOUR: Final = 0.06  # that is left on a night that departs
RATES_BACK: Final = (1, 2, 3)  # phases over which the surplus is measured; the smallest counts: a pulse may be over
STRANGE_BACK: Final = (2, 3, 5)  # phases over which a night is held against nights here
LATE: Final = 5  # nights by which the usual gain is known; last night's where that is more, as the buffer shrinks
LIKENED: Final = 8  # nights that say how far gains go from night to night
LEAST_NIGHTS: Final = 3
LEAST_SCALE: Final = 0.02  # inorganic carbon per alkalinity, of a gain

Profile = Sequence[float | None]


class Departure(NamedTuple):
    """How tonight stands to the nights known.

    `scales` by which the carbon gained of late exceeds what is usual; 0 where too little is known, and where the pH
    fell no farther than usual: it is the probe that stands lower. `fall` [pH] since `since` [ms], where `usual` is
    ordinary. `surplus` is the carbon per alkalinity and hour beyond the usual.
    """

    scales: float
    fall: float
    usual: float
    since: int
    surplus: float


class _Gain(NamedTuple):
    """Since one phase: the carbon gained tonight, the usual, from night to night; the fall [pH] and the usual one."""

    gained: float
    usual: float
    gains: list[float]
    fall: float
    usual_fall: float


def departure(
    night: Night, at: int, value: float, tonight: Profile, earlier: Sequence[Profile], *, grain: float = 0.0
) -> Departure:
    """How `value` at `at`, after `tonight`'s values by phase, stands to earlier nights.

    A scale is at least one count of the converter, `grain` [pH].
    """
    phase = night.phase(at)
    whole = int(phase)
    found = {back: _gain(whole - back, phase, value, tonight, earlier) for back in {*RATES_BACK, *STRANGE_BACK}}
    seen = {back: gain for back, gain in found.items() if gain is not None}
    if not seen:
        return Departure(0.0, 0.0, 0.0, at, 0.0)
    count = carbon_of(value - grain) - carbon_of(value)
    beyond = [_scales(seen[back], count) for back in STRANGE_BACK if back in seen]
    rates = [
        (seen[back].gained - seen[back].usual) * HOUR_MS / max(at - night.time_of(whole - back), 1)
        for back in RATES_BACK
        if back in seen
    ]
    longest = max(seen)
    fall, usual = seen[longest].fall, seen[longest].usual_fall
    return Departure(
        fmean(beyond) if len(beyond) > 1 and fall > usual else 0.0,
        fall,
        usual,
        night.time_of(whole - longest),
        max(min(rates), 0.0) if len(rates) == len(RATES_BACK) else 0.0,
    )


def going_on(ordinary: float, surplus: float, hours: float) -> float:
    """The low [pH] where `ordinary` would be it, had not a surplus [per hour] gone on for `hours`.

    >>> round(going_on(6.8, 0.1, 7.0), 2), going_on(6.8, 0.0, 7.0)
    (6.42, 6.8)
    """
    return ph_of(carbon_of(ordinary) + surplus * relaxing(EXCHANGE_PER_HOUR, hours)) if surplus > 0 else ordinary


def _scales(seen: _Gain, count: float) -> float:
    """By how many scales the gain exceeds the usual; `count` is what one count of the converter makes."""
    steps = [after - before for before, after in pairwise(seen.gains[-LIKENED:])]
    middle = median(steps)
    spread = MAD_TO_SD * median([abs(step - middle) for step in steps])
    return (seen.gained - seen.usual) / max(spread, LEAST_SCALE, count)


def _gain(base: int, phase: float, value: float, tonight: Profile, earlier: Sequence[Profile]) -> _Gain | None:
    """What has come since the phase `base`; None while three earlier nights are not known."""
    before = tonight[base] if base >= 0 else None
    if before is None:
        return None
    pairs = [(b, v) for b, v in ((p[base], value_at(p, phase)) for p in earlier) if b is not None and v is not None]
    if len(pairs) < LEAST_NIGHTS:
        return None
    gains = [carbon_of(v) - carbon_of(b) for b, v in pairs]
    usual = max(median(gains[-LATE:]), gains[-1])
    return _Gain(carbon_of(value) - carbon_of(before), usual, gains, before - value, median([b - v for b, v in pairs]))
