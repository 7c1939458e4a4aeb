"""The cases of the fault suite: which instrument fails how, when, how long, and by when it must be named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal, TypeAlias

from fault_ponds import DAY_MS, HOUR_MS, MINUTE_MS, Series, Stand

from dawnline_simulator.failures.circuit import Noisy, Stepped
from dawnline_simulator.failures.electronics import Floating, Frozen, Shorted, Silent, Stuck, rail_ph
from dawnline_simulator.failures.failure import Failure, to_count
from dawnline_simulator.failures.glass import Coated, Cracked, Dried
from dawnline_simulator.faults import DatedFault, Drift, drift_at

CASES_A_STAND = 6
WARM_UP_DAYS = 8
AFTER_MS = DAY_MS  # watched on after the fault has ended
DRIFT_DAYS = 14.0
MIXED_MS = 75_000  # no pond is mixed sooner than this; a probe that speaks seldomer sees acid as one step, too
FOUR = 4.0  # pH, the lower end of a 4 to 20 mA range read as pH
NEAR_SEVEN = 0.4  # pH; a short that lands this near the water's own pH makes no step

Make: TypeAlias = Callable[[Random], Failure]


class Drifting:
    """The simulator's `Drift` as a failure: the reference drifts, the glass goes on working."""

    def __init__(self, count: float, ph_per_day: float) -> None:
        what = Drift(1, "00:00", DRIFT_DAYS * 24.0, ph_per_day)
        self._count, self._passed_ms = count, 0
        self._faults = (DatedFault(what, 0, round(DRIFT_DAYS * DAY_MS)),)

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The healthy reading and the drift so far."""
        self._passed_ms += round(seconds * 1000)
        return to_count(shown + drift_at(self._faults, self._passed_ms), self._count)


@dataclass(frozen=True)
class Fault:
    """What fails: made anew for each run by `make`; `beyond` says why nobody could know, where that is so.

    `alike` names what would give this single probe the very same readings in health. Then whoever wakes nobody would
    wake nobody for that either, so a pond alarm is on purpose: until the fault is named, or, with `all_along`, as long
    as it lasts. It must be named in time nevertheless.
    """

    words: str
    make: Make
    hours: float
    limit_ms: int
    beyond: str = ""
    thermometer: Literal["in water", "in air"] = "in water"
    alike: str = ""
    all_along: bool = False


@dataclass(frozen=True)
class Case:
    """Case `number` of the suite: a fault at a stand, from reading `first` to `last`, watched to `end`."""

    number: int
    sort: str
    fault: Fault
    seed: int
    first: int
    last: int
    end: int


def soon(stand: Stand) -> int:
    """What can be seen at once: an hour; twelve readings for a probe that speaks seldom [ms]."""
    return max(HOUR_MS, 12 * stand.interval_ms)


def by_rhythm(stand: Stand) -> int:
    """What shows by missing the pond's rhythm: 6 h to a minute's interval, 12 h to five, else a day [ms]."""
    minutes = stand.interval_ms / MINUTE_MS
    return HOUR_MS * (6 if minutes <= 1 else 12 if minutes <= 5 else 24)


def longest_still(values: list[float], width: float) -> int:
    """The longest run of readings that lie within `width` of each other, in readings (greedy from each start).

    >>> longest_still([7.0, 7.1, 7.1, 7.1, 7.2], 0.0)
    3
    """
    best = start = 0
    while start < len(values):
        low = high = values[start]
        end = start + 1
        while end < len(values):
            low, high = min(low, values[end]), max(high, values[end])
            if high - low > width + 1e-9:
                break
            end += 1
        best = max(best, end - start)
        start += max(1, (end - start) // 2)
    return best


def frozen(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """The same value again and again, perhaps its last digit alive."""
    dither, limit = dice.choice((0.0, 0.0, 0.3)), by_rhythm(stand)
    still = longest_still(series.ph[:first], 2.0 * stand.count if dither else 0.0) * stand.interval_ms
    beyond = "its healthy readings stand still as long" if still >= limit / 2 else ""
    hours = max(12.0, limit / HOUR_MS * dice.uniform(1.2, 2.0))
    words = f"dither {dither:g}" if dither else "to the last digit"
    return Fault(words, lambda d: Frozen(stand.count, d, dither=dither), hours, limit, beyond)


def acid(stand: Stand, size: float) -> str:
    """What a fall by `size` within one reading could be as well.

    A dose of acid is in the water within minutes. Between readings two minutes or more apart it leaves the old level
    and reaches the new one unseen, and stays there: the same numbers as those of a bumped reference. The slow rise
    that follows as its carbon dioxide leaves is lost in the day's course for hours. A second pH probe would tell.
    """
    return "acid" if size < 0 and stand.interval_ms > MIXED_MS and not stand.twin else ""


def is_like_acid(stand: Stand, before: float, shown: Sequence[float]) -> bool:
    """Whether all that a failing probe has `shown` since it stood at `before` is a fall one way, as of water it can be.

    Acid runs in as fast as whoever spills it pours, so that to a probe that speaks seldomer than a pond mixes any fall
    may be its. Here no reading has come up from the lowest before it by more than the probe trembles by in health: four
    standard deviations, or one count. Whoever wakes nobody for it would wake nobody for acid that runs in so.
    """
    lowest, rises = before, 0.0
    for value in shown:
        rises = max(rises, value - lowest)
        lowest = min(lowest, value)
    one_way = rises <= max(stand.count, 4.0 * stand.scenario.ph_probe.noise) + 1e-9
    return bool(shown) and one_way and bool(acid(stand, shown[-1] - before))


def drift(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """The reference drifts away, mostly downward, for two weeks.

    Day by day a buffer that is used up, or an algae bloom, moves the pH of all hours just so; until a test by hand
    (here once a week) or a second probe contradicts, the numbers are the same.
    """
    rate = (0.08 * 4.0 ** dice.random()) * dice.choice((-1.0, -1.0, -1.0, 1.0))
    limit = round(DRIFT_DAYS * DAY_MS)
    beyond = "" if stand.twin or stand.kit else "no twin, no hand test"
    alike = "" if stand.twin else "an emptying buffer" if rate < 0 else "an algae bloom"
    words, hours = f"{rate:+.2f} pH a day", DRIFT_DAYS * 24.0
    return Fault(words, lambda d: Drifting(stand.count, rate), hours, limit, beyond, alike=alike)


def step(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """A jump within one reading, then the water again."""
    size = (0.4 * 6.0 ** dice.random()) * dice.choice((-1.0, -1.0, 1.0))
    hours, alike = dice.uniform(6.0, 48.0), acid(stand, size)
    return Fault(
        f"{size:+.2f}", lambda d: Stepped(stand.count, size), hours, soon(stand), alike=alike, all_along=bool(alike)
    )


def noisy(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """Noise of a size, random or a beat of the mains, which is one once it has been up and down twice."""
    size = 0.12 * 6.0 ** dice.random()
    beat = stand.interval_ms / 1000 * dice.uniform(3.0, 40.0) if dice.random() < 0.4 else None
    words = f"sd {size:.2f}" + (f", beat of {beat / stand.interval_ms * 1000:.0f} readings" if beat else "")
    hours = dice.uniform(4.0, 24.0)
    limit = max(soon(stand), round(2000.0 * (beat or 0.0)))
    return Fault(words, lambda d: Noisy(stand.count, d, size, beat_s=beat), hours, limit)


def out_of_water(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """Hung in the air, dry at once or slowly, the thermometer along or not."""
    film = dice.choice((0.0, 0.0, 600.0, 1500.0))
    air: Literal["in water", "in air"] = "in air" if stand.thermometer and dice.random() < 0.5 else "in water"
    words = ("dry at once" if not film else f"wet film {film / 60:.0f} min") + f", thermometer {air}"
    hours, limit = dice.uniform(4.0, 12.0), soon(stand)
    return Fault(words, lambda d: Dried(stand.count, d, film_s=film), hours, limit, thermometer=air)


def dead_wire(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """Silence, an open input, or a short."""
    sort, hours, limit = dice.choice(("silent", "floating", "shorted")), dice.uniform(4.0, 24.0), soon(stand)
    if sort == "silent":
        return Fault(sort, lambda d: Silent(), hours, limit)
    if sort == "floating":
        return Fault(sort, lambda d: Floating(stand.count, d), hours, limit)
    if abs(series.ph[first] - 7.0) < NEAR_SEVEN:  # no step to see: it shows by standing still
        limit = by_rhythm(stand)
        still = longest_still(series.ph[:first], 2.0 * stand.count) * stand.interval_ms
        beyond = "it lands on the water's own pH, which stands still as long" if still >= limit / 2 else ""
        return Fault("shorted, near 7", lambda d: Shorted(stand.count, d), limit / HOUR_MS * 1.5, limit, beyond)
    return Fault(sort, lambda d: Shorted(stand.count, d), hours, limit)


def rail(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """Stuck at one end of the range: pH 4 is where an overdose of acid ends as well."""
    at = dice.choice((0.0, 0.0, 14.0, 2.0, 4.0, 12.0, rail_ph(2047.0), rail_ph(-2047.0)))
    hours, alike = dice.uniform(4.0, 24.0), acid(stand, at - series.ph[first]) if at == FOUR else ""
    return Fault(f"pH {at:g}", lambda d: Stuck(at), hours, soon(stand), alike=alike, all_along=bool(alike))


def slow(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """A coated bulb."""
    lag, growth = 3600.0 * 6.0 * 4.0 ** dice.random(), 86_400.0 * dice.uniform(0.3, 1.0)
    day = DAY_MS // stand.interval_ms
    ordinary = sorted(series.truth[first - 3 * day : first])
    swing = ordinary[-1 - len(ordinary) // 50] - ordinary[len(ordinary) // 50]
    beyond = f"the pond swings by {swing:.2f} only" if swing < max(0.12, 3.0 * stand.count) else ""
    noise = stand.scenario.ph_probe.noise
    words = f"lag to {lag / 3600:.0f} h"
    return Fault(words, lambda d: Coated(stand.count, d, lag, growth, noise=noise), 96.0, 3 * DAY_MS, beyond)


def cracked(stand: Stand, series: Series, first: int, dice: Random) -> Fault:
    """A broken bulb."""
    rest, limit = dice.uniform(-0.2, 0.2), DAY_MS
    return Fault(f"to {7 + rest:.2f}", lambda d: Cracked(stand.count, d, rest=rest), 48.0, limit)


SORTS: dict[str, Callable[[Stand, Series, int, Random], Fault]] = {
    "frozen": frozen,
    "drift": drift,
    "step": step,
    "noisy": noisy,
    "out-of-water": out_of_water,
    "dead-wire": dead_wire,
    "rail": rail,
    "slow": slow,
    "cracked": cracked,
}


def sort_of(number: int) -> str:
    """The sort of case `number`: they take turns."""
    return list(SORTS)[number % len(SORTS)]


def case(seed: int, number: int, stand: Stand, series: Series) -> Case:
    """Case `number` at its stand; a third of them begin at dusk, before a night without a rhythm."""
    dice = Random(f"{seed}/case/{number}")
    hour = dice.uniform(19.0, 22.0) if dice.random() < 0.33 else dice.uniform(0.0, 24.0)
    first = round(((WARM_UP_DAYS + dice.choice((0, 1))) * 24.0 + hour) * HOUR_MS) // stand.interval_ms
    sort = sort_of(number)
    fault = SORTS[sort](stand, series, first, dice)
    last = first + round(fault.hours * HOUR_MS) // stand.interval_ms
    return Case(number, sort, fault, dice.getrandbits(32), first, last, last + AFTER_MS // stand.interval_ms)


def days_needed(numbers: list[int]) -> float:
    """How long a stand must run for these cases [days]."""
    longest = DRIFT_DAYS if "drift" in {sort_of(number) for number in numbers} else 4.0
    return WARM_UP_DAYS + 2.0 + longest + AFTER_MS / DAY_MS + 0.1
