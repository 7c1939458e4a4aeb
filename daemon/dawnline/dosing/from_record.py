"""What the record says of the pond's water just now: the last tests, the probes, the last days, a crash."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final, NamedTuple

from dawnline.account.account import DAYS_BACK, EIGHT_OF_TEN, Account
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.dosing.substances import is_acid
from dawnline.duration import DAY_MS, show_duration
from dawnline.event import Act, Day, Transition
from dawnline.logbook import acts as logbook
from dawnline.outlook.ammonia_watch import FRESH_MS
from dawnline.outlook.hardness import bounds, finest_step
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.water.units import calcium_mmol_l_from_dgh

CRASH_MS: Final = 3 * DAY_MS
OLD_TEST_MS: Final = 3 * DAY_MS  # a KH test older than that is carried on by the account
NEW_MS: Final = DAY_MS // 4  # how old a pH or a temperature may be to be the present one, by probe or by hand
MAGNESIUM_SHARE: Final = 0.2  # of GH; common practice, no source


def kh_fact(read_dkh: float, step_dkh: float | None, origin: str) -> tuple[Fact, float]:
    """The likeliest alkalinity behind a kit's reading, and the least [meq/L]: a kit shows the upper end of a drop.

    >>> fact, low = kh_fact(3.0, 1.0, "given")
    >>> round(fact.value / 0.35665, 2), round(low / 0.35665, 2)
    (2.5, 2.0)
    """
    low, high = bounds(read_dkh, finest_step([read_dkh]) if step_dkh is None else step_dkh)
    return Fact((low + high) / 2.0, f"{origin}, read as {read_dkh:.3g} dKH"), low


class Newest(NamedTuple):
    """A good reading with its time [ms], and why the probe is doubted; "" where it is not, and for a test by hand."""

    at: int
    value: float
    doubt: str = ""


class Record(NamedTuple):
    """What the store holds up to `at` [ms]: accepted acts in order, the last days, alarms told, and the newest good
    `ph` and `temperature`; of the days, as date and probe, those on which the probe was doubted.
    """

    pond: PondSettings
    limits: LimitSettings
    done: Sequence[Act]
    days: Sequence[Day]
    told: Sequence[Transition]
    latest: Mapping[str, Newest]
    at: int
    doubted: frozenset[tuple[str, str]] = frozenset()


class _Tests(NamedTuple):
    """The newest figure of each test, with its time; `tan` less the water changed since."""

    found: dict[str, tuple[int, float]]
    step_dkh: float | None


class _Crash(NamedTuple):
    """Why the pond counts as crashed, and since when [ms]: tests from before say nothing any more; 0 where they do."""

    why: str
    since: int


def pond_water(record: Record) -> PondWater:
    """What is known at the end of the record."""
    at = record.at
    days = [day for day in record.days if (day.date, day.probe) not in record.doubted][-3:]
    tests = _tests(record)
    found = tests.found
    ph, ph_by = _now(record, found, "ph", "probe")
    celsius, celsius_by = _now(record, found, "temperature", "thermometer")
    crash = _crash(record, ph, found.get("ph"))
    kh, low = None, None
    if "kh" in found and at - found["kh"][0] <= DAYS_BACK * DAY_MS:
        kh, low = kh_fact(found["kh"][1], tests.step_dkh, _when("your test", found["kh"][0], record))
        if found["kh"][0] < crash.since:
            kh, low = kh._replace(origin=f"{kh.origin}, before the crash: test again"), 0.0
    tan = found.get("tan")
    if tan is not None and (at - tan[0] > FRESH_MS or tan[0] < crash.since):
        tan = None
    calcium = None
    if "gh" in found:
        dissolved = calcium_mmol_l_from_dgh(found["gh"][1], MAGNESIUM_SHARE)
        calcium = Fact(dissolved, _when("GH by your test", found["gh"][0], record))
    litres = record.pond.volume_litres
    return PondWater(
        litres=None if litres is None else Fact(litres, "the configuration"),
        kh=kh,
        kh_low=low,
        ph=_fact(ph, ph_by, record),
        dusk_ph=_extreme([day.dusk_high for day in days], max, "highest", days),
        dawn_ph=_extreme([day.dawn_low for day in days], min, "lowest", days),
        celsius=_fact(celsius, celsius_by, record),
        tan=_fact(tan, "your test", record),
        calcium=calcium,
        crashed=crash.why,
        units=record.pond.units,
    )


def _now(record: Record, tests: Mapping[str, tuple[int, float]], name: str, by: str) -> tuple[Newest | None, str]:
    """The present value of `name` and who says so: a probe that is doubted only where no recent test by hand does."""
    live, tested = record.latest.get(name), tests.get(name)
    live = live if live is not None and record.at - live.at <= NEW_MS else None
    if tested is not None and record.at - tested[0] <= NEW_MS and (live is None or live.doubt):
        return Newest(*tested), "your test"
    return live, by


def _tests(record: Record) -> _Tests:
    found: dict[str, tuple[int, float]] = {}
    step: float | None = None
    for act in record.done:
        entry = logbook.read_kept(act)
        if isinstance(entry, logbook.HandTest):
            rows = {"kh": entry.kh_dkh, "gh": entry.gh_dgh, "tan": entry.tan_mg_l, "ph": entry.ph}
            rows["temperature"] = entry.temperature_c
            found |= {name: (act.at, value) for name, value in rows.items() if value is not None}
            step = entry.kh_step_dkh if entry.kh_dkh is not None else step
        elif isinstance(entry, logbook.WaterChange) and "tan" in found:
            litres, volume = entry.litres, record.pond.volume_litres
            share = entry.share or (min(litres / volume, 1.0) if litres and volume else 0.0)
            found["tan"] = (found["tan"][0], found["tan"][1] * (1.0 - share))
    return _Tests(found, step)


def _fact(row: Newest | tuple[int, float] | None, what: str, record: Record) -> Fact | None:
    if row is None:
        return None
    return Fact(row[1], _when(what, row[0], record), row.doubt if isinstance(row, Newest) else "")


def _extreme(
    values: Sequence[float | None], pick: Callable[[list[float]], float], word: str, days: Sequence[Day]
) -> Fact | None:
    known = [value for value in values if value is not None]
    if not known:
        return None
    return Fact(pick(known), f"the {word} of {len(known)} days up to {days[-1].date}")


def reckoned_on(pond: PondWater, account: Account) -> PondWater:
    """The same where the last test of KH is old: then the account has carried it on, with what it may be off by.

    After a crash the account is as much in the dark as the test.
    """
    old = account.last_test is not None and account.at - account.last_test > OLD_TEST_MS
    if account.why_not or not old or pond.crashed or pond.kh is None:
        return pond
    now = account.points[-1]
    kh = Fact(now.alkalinity, f"the account, carried on from {pond.kh.origin}")
    return replace(pond, kh=kh, kh_low=max(now.alkalinity - EIGHT_OF_TEN * now.sd, 0.0))


def last_acid(done: Iterable[Act], at: int) -> float | None:
    """Days since vinegar or another acid was last logged."""
    times = [
        act.at for act in done if isinstance(entry := logbook.read_kept(act), logbook.Dose) and is_acid(entry.what)
    ]
    return (at - max(times)) / DAY_MS if times else None


def _when(what: str, then: int, record: Record) -> str:
    ago = show_duration(max(record.at - then, 0))
    return f"{what} of {datetime.fromtimestamp(then / 1000, record.pond.zone):%Y-%m-%d %H:%M}, {ago} ago"


def _crash(record: Record, ph: Newest | None, by_hand: tuple[int, float] | None) -> _Crash:
    """Why the pond counts as crashed: an alarm, a dawn or a test by hand of the last days, or the pH now; "" where it
    does not.
    """
    begun = [each for each in record.told if each.alarm == "ph-crash" and each.change == "raised"]
    latest = [each for each in begun if 0 <= record.at - each.at <= CRASH_MS]
    if latest:
        return _Crash("ph-crash was raised within the last three days", latest[-1].since)
    for day in reversed(record.days[-3:]):
        if day.dawn_low is not None and day.dawn_low < record.limits.ph_crash:
            return _Crash(f"its dawn low was {day.dawn_low:.2f} on {day.date}", day.dawn_low_at or 0)
    if ph is not None and ph[1] < record.limits.ph_low:
        return _Crash(f"its pH is {ph[1]:.2f}, below {record.limits.ph_low:g}", 0)
    if by_hand is not None and record.at - by_hand[0] <= CRASH_MS and by_hand[1] < record.limits.ph_low:
        return _Crash(f"by hand its pH was {by_hand[1]:.2f}, below {record.limits.ph_low:g}", 0)
    return _Crash("", 0)
