"""Does tonight depart from what this pond does? Then the fall itself must carry the forecast.

The fall since one, four and all the phases before (about an hour, three hours, the evening) is held against the median
fall of earlier nights at the same phase and its robust scale. What exceeds it is counted in inorganic carbon: a
surplus of breathing over exchange goes on at its rate, while the exchange that is left takes some of it away.

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
SCALES: Final = 4.0
EXCHANGE_PER_HOUR: Final = 0.06  # that is left on a night that departs
BACK: Final = (1, 4)  # phases
FROM_PHASE: Final = 1  # "all the phases before": from two hours before sunset
FLOORS: Final = (0.1, 0.12, 0.15)  # pH beyond the usual fall
BELOW_USUAL: Final = 0.05  # pH below the usual level that a departure lies
RATES_BACK: Final = (1, 2, 3)  # phases over which the surplus is measured; the smallest counts: a pulse may be over
STRANGE_BACK: Final = (2, 3, 5)  # phases over which a night is held against nights here
LATE: Final = 5  # nights by which the usual gain is known; last night's where that is more, as the buffer shrinks
LIKENED: Final = 8  # nights that say how far gains go from night to night
LEAST_SCALE: Final = 0.02  # inorganic carbon per alkalinity, of a gain
LEAST_SHARE: Final = 0.1  # of the usual gain
FIRST_SCALE: Final = 0.03  # while fewer than four nights say

Profile = Sequence[float | None]


class Departure(NamedTuple):
    """`ratio` 1 is a night that departs. `fall` [pH] since `since` [ms], where `usual` is ordinary.

    `surplus` is the inorganic carbon per alkalinity and hour beyond the usual.
    """

    ratio: float
    fall: float
    usual: float
    since: int
    surplus: float


def departure(night: Night, at: int, value: float, tonight: Profile, earlier: Sequence[Profile]) -> Departure:
    """How `value` at `at`, after `tonight`'s values by phase, stands to earlier nights."""
    phase = night.phase(at)
    levels = [v for v in (value_at(profile, phase) for profile in earlier) if v is not None]
    calm = Departure(0.0, 0.0, 0.0, at, 0.0)
    if len(levels) < 3 or value > median(levels) - BELOW_USUAL:
        return calm
    best = calm
    whole = int(phase)
    bases = [*(whole - back for back in BACK), FROM_PHASE]
    for base, floor in zip(bases, FLOORS, strict=True):
        before = tonight[base] if 0 <= base < whole else None
        if before is None:
            continue
        falls = _falls(earlier, base, phase)
        if len(falls) < 3:
            continue
        usual = median(falls)
        scale = MAD_TO_SD * median([abs(fall - usual) for fall in falls]) * (1.0 + 2.0 / len(falls))
        ratio = (before - value - max(usual, 0.0)) / max(floor, SCALES * scale)
        if ratio > best.ratio:
            best = Departure(ratio, before - value, usual, night.time_of(base), 0.0)
    return best._replace(surplus=surplus_of(night, at, value, tonight, earlier)) if best.ratio else best


def going_on(ordinary: float, surplus: float, hours: float) -> float:
    """The low [pH] where `ordinary` would be it, had not a surplus [per hour] gone on for `hours`.

    >>> round(going_on(6.8, 0.1, 7.0), 2), going_on(6.8, 0.0, 7.0)
    (6.42, 6.8)
    """
    return ph_of(carbon_of(ordinary) + surplus * relaxing(EXCHANGE_PER_HOUR, hours)) if surplus > 0 else ordinary


def _falls(earlier: Sequence[Profile], base: int, phase: float) -> list[float]:
    pairs = [(profile[base], value_at(profile, phase)) for profile in earlier]
    return [before - after for before, after in pairs if before is not None and after is not None]


def surplus_of(night: Night, at: int, value: float, tonight: Profile, earlier: Sequence[Profile]) -> float:
    """Inorganic carbon per alkalinity and hour gained beyond the usual, over the last phases."""
    phase = night.phase(at)
    rates = []
    for back in RATES_BACK:
        found = _gains(int(phase) - back, phase, value, tonight, earlier)
        if found is None:
            return 0.0
        gained, gains = found
        rates.append((gained - _usual(gains)) * HOUR_MS / max(at - night.time_of(int(phase) - back), 1))
    return max(min(rates), 0.0)


def strangeness(
    night: Night, at: int, value: float, tonight: Profile, earlier: Sequence[Profile], *, grain: float = 0.0
) -> float:
    """How many scales the carbon gained of late exceeds what nights here gain; 0 where too little is known.

    A scale is at least one count of the converter, `grain` [pH].
    """
    phase, count = night.phase(at), carbon_of(value - grain) - carbon_of(value)
    beyond = []
    for back in STRANGE_BACK:
        found = _gains(int(phase) - back, phase, value, tonight, earlier)
        if found is None:
            continue
        gained, gains = found
        usual, steps = _usual(gains), [after - before for before, after in pairwise(gains[-LIKENED:])]
        middle = median(steps)
        spread = MAD_TO_SD * median([abs(step - middle) for step in steps]) if len(gains) > 3 else FIRST_SCALE
        beyond.append((gained - usual) / max(spread, LEAST_SCALE, count, LEAST_SHARE * usual))
    return fmean(beyond) if len(beyond) > 1 else 0.0


def _gains(
    base: int, phase: float, value: float, tonight: Profile, earlier: Sequence[Profile]
) -> tuple[float, list[float]] | None:
    """The carbon gained since the phase `base`, tonight and on each earlier night; None while three are not known."""
    before = tonight[base] if base >= 0 else None
    pairs = [(profile[base], value_at(profile, phase)) for profile in earlier] if base >= 0 else []
    gains = [carbon_of(after) - carbon_of(b) for b, after in pairs if b is not None and after is not None]
    return None if before is None or len(gains) < 3 else (carbon_of(value) - carbon_of(before), gains)


def _usual(gains: Sequence[float]) -> float:
    return max(median(gains[-LATE:]), gains[-1])
