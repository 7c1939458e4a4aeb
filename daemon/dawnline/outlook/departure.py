"""Does tonight depart from what this pond does? Then the fall itself must carry the forecast.

The fall since one, four and all the phases before (about an hour, three hours, the evening) is held against the median
fall of earlier nights at the same phase and its robust scale. What exceeds it is counted in inorganic carbon: a
surplus of breathing over exchange goes on at its rate, while the exchange that is left takes some of it away.

Thresholds and the rate of exchange were set on simulated ponds and on public lake and stream records; no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
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
RATES_BACK: Final = (
    1,
    3,
)  # phases over which the surplus is measured; the smaller counts: a pulse that is over is over

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
    return best._replace(surplus=_surplus(night, at, value, tonight, earlier)) if best.ratio else best


def going_on(ordinary: float, surplus: float, hours: float) -> float:
    """The low [pH] where `ordinary` would be it, had not a surplus [per hour] gone on for `hours`.

    >>> round(going_on(6.8, 0.1, 7.0), 2), going_on(6.8, 0.0, 7.0)
    (6.42, 6.8)
    """
    return ph_of(carbon_of(ordinary) + surplus * relaxing(EXCHANGE_PER_HOUR, hours)) if surplus > 0 else ordinary


def _falls(earlier: Sequence[Profile], base: int, phase: float) -> list[float]:
    pairs = [(profile[base], value_at(profile, phase)) for profile in earlier]
    return [before - after for before, after in pairs if before is not None and after is not None]


def _surplus(night: Night, at: int, value: float, tonight: Profile, earlier: Sequence[Profile]) -> float:
    """Inorganic carbon per alkalinity and hour gained beyond the usual, over the last phases."""
    phase = night.phase(at)
    rates = []
    for back in RATES_BACK:
        base = int(phase) - back
        before = tonight[base] if base >= 0 else None
        if before is None:
            return 0.0
        usual = [
            carbon_of(v) - carbon_of(b)
            for b, v in ((profile[base], value_at(profile, phase)) for profile in earlier)
            if b is not None and v is not None
        ]
        if not usual:
            return 0.0
        gained = carbon_of(value) - carbon_of(before) - median(usual)
        rates.append(gained * HOUR_MS / max(at - night.time_of(base), 1))
    return max(min(rates), 0.0)
