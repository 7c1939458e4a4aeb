"""The day the dawn low passes 6.5: how far off the forecast is seven, five and three days before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from statistics import fmean, median
from typing import Any

import bound
import buffer_told
from case import Case, kept
from dawns import Blocks
from figures import middle, share, table
from sunlight import local_date, night_before
from watching import WATCH, watch
from world import HOUR_MS, roll

from dawnline.event import Act
from dawnline.outlook.buffer_line import BufferLine

OUT = (7, 5, 3)
CHECK_SD = 0.01  # pH, of a look into a buffer solution
BOUND = "all known but pace and wander"
LIMIT = 6.5
NIGHTS_LEAST, NIGHTS_MOST = 5, 12  # that the lines are drawn through
FAR_DAYS = 60  # beyond this a line names no date

Said = tuple[int | None, int | None, int | None]  # days off: the date, the earliest, the latest
Check = tuple[int, float]  # when, and what the probe read too much [pH]
DawnLow = tuple[int, float, float | None]  # when, pH, the water [degC]


def one(model: str, seed: int, cache: Path | None) -> dict[str, Any] | None:
    """What was said of the pond of one seed, by who said it and how many days before."""
    case = kept(cache, f"buffer-{model}-{seed}", lambda: buffer_told.tell(model, seed))
    if case is None:
        return None
    day, place = case.truth["day"], case.place
    watched = watch(place, case.readings["alone"].samples(), (), case.volume_litres)
    told = [(local_date(f.at, place), f.body) for f in watched.forecasts if f.about == "buffer"]
    said = {f"{WATCH}, alone": _ours(case, told)}
    # Neither a look into a buffer nor a test of KH alters a reading: the dawn lows of one watch serve all helps.
    again = _helped(case, watched.nights, [], [])
    if any(said[f"{WATCH}, alone"].get(out) != dates for out, dates in again.items()):
        raise AssertionError(f"the line by itself does not say what the whole watch says: {model} pond {seed}")
    checks = _checks(case)
    said[f"{WATCH}, check"] = _helped(case, watched.nights, checks, [])
    for kit in ("kh-1", "kh-0.25"):
        said[f"{WATCH}, {kit}"] = _helped(case, watched.nights, [], case.acts[kit])
    said |= {f"{BOUND}, {help_}": _bound(case, watched.nights, c) for help_, c in (("alone", []), ("check", checks))}
    alarms = [(day - local_date(a.at, place)).days for a in watched.alarms if a.name == "buffer-running-out"]
    return {"seed": seed, "said": said | _lines(case), "alarms": alarms}


def _checks(case: Case) -> list[Check]:
    """What a look into a buffer solution finds every five days: the probe's error.

    It is what the probe reads more than the same one that was set right at these times.
    """
    dice, times = roll("check", case.model, case.seed), [act.at for act in case.acts["check"]]
    alone, right = case.readings["alone"], case.readings["check"]
    checks = []
    for begin, end in zip(times, [*times[1:], 2**62], strict=True):
        first, last = ((at - alone.begin) // alone.interval_ms for at in (begin + HOUR_MS, end))
        apart = [a - b for a, b in zip(alone.ph[first:last], right.ph[first:last], strict=True)]
        if apart:
            checks.append((begin, median(apart) + dice.gauss(0.0, CHECK_SD)))
    return checks


def _helped(case: Case, nights: Sequence[DawnLow], checks: Sequence[Check], tests: Sequence[Act]) -> dict[int, Said]:
    """What the line by itself says of these dawn lows, with checks of the probe and tests of KH."""
    line, helps = BufferLine(LIMIT), sorted([*checks, *((test.at, test) for test in tests)], key=lambda row: row[0])
    said: dict[int, Said] = {}
    for at, low, water_c in nights:
        on = local_date(at, case.place)
        while helps and helps[0][0] < night_before(on, case.place).over:
            when, what = helps.pop(0)
            line.tested(when, what.body["kh_dkh"]) if isinstance(what, Act) else line.checked(when, what)
        out = (case.truth["day"] - on).days
        if out in OUT:
            outlook = line.night(at, low, water_c)
            said[out] = _off(outlook.central, out), _off(outlook.earliest, out), _off(outlook.latest, out)
        else:
            line.diary.night(at, low, water_c)
    return said


def _off(days: int | None, out: int) -> int | None:
    return None if days is None else days - out


def _bound(case: Case, nights: Sequence[DawnLow], checks: Sequence[Check]) -> dict[int, Said]:
    """The best that could be said of the same dawn lows."""
    shown = {local_date(at, case.place): bound.Shown(at, low) for at, low, _ in nights}
    todays = {out: case.truth["day"] - timedelta(days=out) for out in OUT}
    days = {out: bound.day(case.truth["nights"], shown, checks, today) for out, today in todays.items()}
    return {out: (_off(days[out], out), None, None) for out in OUT}


def _ours(case: Case, forecasts: Sequence[tuple[date, Mapping[str, Any]]]) -> dict[int, Said]:
    """The last forecast of the day, for each number of days out."""
    day = case.truth["day"]
    said: dict[int, Said] = {}
    for on, body in forecasts:
        if (out := (day - on).days) in OUT:
            keys = ("reaches_low_on", "earliest", "latest")
            date_off, earliest, latest = (_days_off(body.get(key), day) for key in keys)
            said[out] = date_off, earliest, latest
    return said


def _days_off(value: object, day: date) -> int | None:
    return None if value is None else (date.fromisoformat(str(value)) - day).days


def _lines(case: Case) -> dict[str, dict[int, Said]]:
    """Two peers: a straight line through the daily lows, and Theil and Sen's line through 10^pH."""
    day = case.truth["day"]
    nights = Blocks(case.readings["alone"].ph_rows()).nights(case.place)
    said: dict[str, dict[int, Said]] = {"straight line through pH": {}, "Theil-Sen on 10^pH": {}}
    for out in OUT:
        today = day - timedelta(days=out)
        known = [((on - today).days, low) for on, (_, low) in nights.items() if on <= today and low is not None]
        known = known[-NIGHTS_MOST:]
        if len(known) >= NIGHTS_LEAST:
            said["straight line through pH"][out] = _reach(*_least_squares(known), LIMIT, out)
            exact = [(t, 10.0**low) for t, low in known]
            said["Theil-Sen on 10^pH"][out] = _reach(*_theil_sen(exact), 10.0**LIMIT, out)
    return said


def _reach(slope: float, level: float, limit: float, out: int) -> Said:
    """Days off of the first whole day below a limit."""
    if slope >= 0.0 or level < limit:
        return (None if level >= limit else -out), None, None
    days = int((limit - level) / slope) + 1
    return (days - out if days <= FAR_DAYS else None), None, None


def _least_squares(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    t_mean, y_mean = fmean(t for t, _ in points), fmean(y for _, y in points)
    slope = sum((t - t_mean) * (y - y_mean) for t, y in points) / sum((t - t_mean) ** 2 for t, _ in points)
    return slope, y_mean - slope * t_mean


def _theil_sen(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Median of all slopes: Sen (1968), J. Am. Stat. Assoc. 63, 1379."""
    slopes = [(y2 - y1) / (t2 - t1) for i, (t1, y1) in enumerate(points) for t2, y2 in points[i + 1 :]]
    slope = median(slopes)
    return slope, median(y - slope * t for t, y in points)


def report(found: list[dict[str, Any]]) -> str:
    """The tables. A pond without a date counts as missed."""
    heads = (
        "",
        "days out",
        "ponds",
        "within 1 day",
        "within 2 days",
        "no date",
        "median error, d",
        "mean size of error, d",
        "in interval",
    )
    rows = []
    for who in found[0]["said"]:
        for out in OUT:
            all_said = [row["said"][who].get(out, (None, None, None)) for row in found]
            errors = [said[0] for said in all_said if said[0] is not None]
            spans = [(said[1], said[2]) for said in all_said if said[1] is not None and said[2] is not None]
            held = sum(one <= 0 <= two for one, two in spans)
            within = [share(sum(abs(e) <= days for e in errors), len(found)) for days in (1, 2)]
            size = middle([abs(e) for e in errors], 1, fmean)
            error = f"{median(errors):+.1f}" if errors else "-"
            no_date = share(len(found) - len(errors), len(found))
            rows.append((who, str(out), str(len(found)), *within, no_date, error, size, share(held, len(spans))))
    first = [max(row["alarms"]) for row in found if row["alarms"]]
    told = f"First `buffer-running-out`: {len(first)} of {len(found)} ponds, {middle(first)} days before."
    return f"{table(heads, rows)}\n\n{told}"
