"""The buffer line on simulated ponds: how well it names the day, and whether it keeps quiet where there is none.

    python tests/benchmarks/buffer.py [--dev] [--ponds N]

Ponds that run out (at least 100) and ponds that hold (100 pond-weeks and more), the probe's wander 0.02 pH per root day
from the first night on and never calibrated unless a row says so. `--dev` takes the seeds that were developed on.
Each forecast is scored against the first night whose true low is under 6.5 (`pond`), and against the first night on
which the probe shows a low under 6.5 (`probe`): the day that `dawnline review` will name.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil, sqrt
from random import Random
from statistics import median

from buffer_ponds import DAY_MS, HOUR_MS, KINDS, LIMIT, ZONE, Pond, calm, spent, spent_scenario

from dawnline.catalogue_file import shipped
from dawnline.event import Forecast
from dawnline.outlook.buffer_line import BufferLine, Outlook
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline.water.units import dkh_from_meq_l, meq_l_from_dkh
from dawnline_simulator.simulate import simulate

DEV, REPORT = 0, 100_000  # first seed of either set
OUT = (7, 5, 3)
WANDER, NOISE, CHECK_NOISE = 0.02, 0.005, 0.01
WARM_UP = 7  # nights before a forecast is asked for
BASELINE_NIGHTS = 10


@dataclass
class Help:
    """What the keeper adds to the probe: a check every so many days, three tests of KH by a kit of this step [dKH]."""

    name: str
    check_days: int = 0
    kit_dkh: float = 0.0


HELPS = (
    Help("probe alone"),
    Help("buffer check every 5 days", check_days=5),
    Help("3 KH tests, kit of 1 dKH", kit_dkh=1.0),
    Help("3 KH tests, kit of 0.25 dKH", kit_dkh=0.25),
)


@dataclass
class Walk:
    """A pond seen by its probe: the lows shown, and each morning's outlook."""

    shown: list[float]
    said: list[Outlook]


def walk(pond: Pond, aid: Help, calendar: bool = True) -> Walk:
    """Feed a pond's nights to a line."""
    dice, line, error = Random(f"probe/{pond.kind}/{pond.seed}"), BufferLine(LIMIT), 0.0
    found = Walk([], [])
    tests = {(pond.crossed or 0) - before for before in (16, 12, 8)} if aid.kit_dkh else set()
    changes = list(pond.changes) if calendar else []
    for n, night in enumerate(pond.nights):
        error += dice.gauss(0.0, WANDER)
        shown, checked = error + night.low + dice.gauss(0.0, NOISE), error + dice.gauss(0.0, CHECK_NOISE)
        while changes and changes[0][0] < night.at:
            at, share, source = changes.pop(0)
            line.diluted(at, share, meq_l_from_dkh(source))
        if aid.check_days and n % aid.check_days == aid.check_days - 1:
            line.checked(night.at - 8 * HOUR_MS, checked)
        if n in tests:
            read = ceil(dkh_from_meq_l(night.alkalinity) / aid.kit_dkh) * aid.kit_dkh
            line.tested(night.at + HOUR_MS, read, aid.kit_dkh)
        found.shown.append(shown)
        found.said.append(line.night(night.at, shown, night.water_c))
    return found


# ------------------------------------------------------------ baselines


def straight(lows: list[float]) -> int | None:
    """Least squares through the daily minimum pH: days until it meets the limit."""
    rows = lows[-BASELINE_NIGHTS:]
    mid, mean = (len(rows) - 1) / 2, sum(rows) / len(rows)
    slope = sum((i - mid) * (y - mean) for i, y in enumerate(rows)) / sum((i - mid) ** 2 for i in range(len(rows)))
    return _days(mean + slope * mid, LIMIT, slope)


def theil_sen(lows: list[float]) -> int | None:
    """Theil-Sen on 10^pH: days until it meets 10^limit."""
    rows = [10.0 ** (low - 7.0) for low in lows[-BASELINE_NIGHTS:]]
    slope = median((rows[j] - rows[i]) / (j - i) for i in range(len(rows)) for j in range(i + 1, len(rows)))
    level = median(y + slope * (len(rows) - 1 - i) for i, y in enumerate(rows))
    return _days(level, 10.0 ** (LIMIT - 7.0), slope)


def _days(now: float, limit: float, slope: float) -> int | None:
    if slope >= 0:
        return None
    days = max(1, ceil((limit - now) / slope))
    return days if days <= 10 else None


BASELINES: dict[str, Callable[[list[float]], int | None]] = {
    "straight line through daily minimum pH": straight,
    "Theil-Sen on 10^pH": theil_sen,
}

# ------------------------------------------------------------ scores

Row = tuple[str, str, int, int | None, bool | None, int | None]  # method, against, days out, error, inside, width


def score(seed: int) -> list[Row] | None:
    """Every method on one pond that runs out."""
    pond = spent(seed)
    if pond is None or pond.crossed is None:
        return None
    rows: list[Row] = []
    for aid in HELPS:
        seen = walk(pond, aid)
        shown = next((n for n, low in enumerate(seen.shown) if low < LIMIT), None)
        for against, reached in (("pond", pond.crossed), ("probe", shown)):
            if reached is None or (aid is not HELPS[0] and against == "probe"):
                continue
            rows += [row for out in OUT if reached - out >= WARM_UP for row in _at(seen, aid, against, reached, out)]
    return rows


def _at(seen: Walk, aid: Help, against: str, reached: int, out: int) -> Iterable[Row]:
    said = seen.said[reached - out]
    if said.central is None:
        yield aid.name, against, out, None, None, None
    else:
        early, late = said.earliest, said.latest
        assert early is not None
        assert late is not None
        yield aid.name, against, out, said.central - out, early <= out <= late, late - early
    if aid is HELPS[0]:
        for name, method in BASELINES.items():
            days = method(seen.shown[: reached - out + 1])
            yield name, against, out, None if days is None else days - out, None, None


def quiet(job: tuple[str, int, bool]) -> tuple[str, int, bool, bool, bool, float] | None:
    """One pond that holds: kind, nights, a date, the alarm at any priority, at high, share of mornings `steady`."""
    kind, seed, calendar = job
    pond = calm(seed, kind)
    if pond is None:
        return None
    said = walk(pond, HELPS[0], calendar).said
    dated = any(each.central is not None for each in said)
    alarm = [each for each in said if each.latest is not None and each.latest <= 14]
    high = any(each.earliest is not None and each.earliest <= 2 for each in alarm)
    name = kind if calendar else kind + ", not logged"
    return name, len(said), dated, bool(alarm), high, sum(each.trend == "steady" for each in said) / len(said)


def whole(seed: int) -> list[Row] | None:
    """A pond that runs out, its readings every ten minutes through the whole pipeline."""
    if spent(seed) is None:
        return None
    scenario, begin = spent_scenario(seed), round(datetime(2026, 5, 20, tzinfo=ZONE).timestamp() * 1000)
    pond = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")
    pipeline = Pipeline(shipped(), pond, [("ph", "ph", None, None), ("water", "temperature", None, None)])
    lows: dict[str, float] = {}
    said: dict[str, Forecast] = {}
    for row in simulate(scenario, seed, begin, 45, 10 * 60_000):
        local = datetime.fromtimestamp(row.at / 1000, ZONE)
        if local.hour < 9:
            lows[str(local.date())] = min(row.truth.ph, lows.get(str(local.date()), 14.0))
        for name, value in (("ph", row.ph), ("water", row.water)):
            for effect in pipeline.step(Sample(name, row.at, value, row.at)):
                if isinstance(effect, Forecast) and effect.about == "buffer":
                    said[str(local.date())] = effect
    reached = next((day for day, low in lows.items() if low < LIMIT), None)
    rows: list[Row] = []
    if reached is None:
        return None
    for out in OUT:
        forecast = said.get(str(date.fromisoformat(reached) - timedelta(days=out)))
        body = forecast.body if forecast is not None else {"lead_days": None}
        error = inside = width = None
        if body["lead_days"] is not None:
            error = body["lead_days"] - out
            inside = body["earliest"] <= reached <= body["latest"]
            width = (date.fromisoformat(body["latest"]) - date.fromisoformat(body["earliest"])).days
        rows.append(("the whole pipeline, probe alone", "pond", out, error, inside, width))
    return rows


# ------------------------------------------------------------ the tables


def share(part: int, whole: int) -> str:
    """A share with its 95 % interval (Wilson 1927)."""
    if not whole:
        return "-"
    p, z = part / whole, 1.96
    mid, half = p + z * z / (2 * whole), z * sqrt(p * (1 - p) / whole + z * z / (4 * whole * whole))
    low, high = ((mid + side * half) / (1 + z * z / whole) for side in (-1, 1))
    return f"{p:.2f} ({low:.2f}-{high:.2f})"


def running_out(rows: list[Row], ponds: int) -> None:
    """Print the table of ponds that run out."""
    print(f"\n{ponds} ponds that run out, their dawn low under {LIMIT} after 12 to 45 nights")
    print(f"{'':<40}{'against':>8}{'out':>4}{'within 1 day':>20}{'within 2 days':>20}{'no date':>8}{'median':>7}"
          f"{'in range':>9}{'its days':>9}")  # fmt: skip
    groups: dict[tuple[str, str, int], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row[0], row[1], row[2]].append(row)
    for (name, against, out), group in sorted(groups.items(), key=lambda g: (_order(g[0][0]), g[0][1], -g[0][2])):
        errors = [row[3] for row in group if row[3] is not None]
        inside = [row[4] for row in group if row[4] is not None]
        widths = [row[5] for row in group if row[5] is not None]
        near = [share(sum(abs(e) <= days for e in errors), len(group)) for days in (1, 2)]
        print(f"{name:<40}{against:>8}{out:>4}{near[0]:>20}{near[1]:>20}{1 - len(errors) / len(group):>8.2f}"
              f"{median(errors) if errors else 0:>+7.0f}"
              + (f"{sum(inside) / len(inside):>9.2f}{sum(widths) / len(widths):>9.1f}" if inside else ""))  # fmt: skip


def _order(name: str) -> int:
    return [*(aid.name for aid in HELPS), *BASELINES, name].index(name)


def holding(rows: list[tuple[str, int, bool, bool, bool, float]]) -> None:
    """Print the table of ponds that hold."""
    weeks = sum(row[1] for row in rows) / 7
    print(f"\n{len(rows)} ponds that hold, {weeks:.0f} pond-weeks")
    print(f"{'':<28}{'ponds':>6}{'given a date':>20}{'alarm':>7}{'high':>6}{'steady':>8}")
    kinds = sorted({row[0] for row in rows})
    for name, group in [*((kind, [r for r in rows if r[0] == kind]) for kind in kinds), ("all", rows)]:
        dated, alarm, high = (sum(row[i] for row in group) for i in (2, 3, 4))
        steady = sum(row[5] for row in group) / len(group)
        print(f"{name:<28}{len(group):>6}{share(dated, len(group)):>20}{alarm:>7}{high:>6}{steady:>8.2f}")


def cost() -> None:
    """Print what a night costs."""
    line, begun = BufferLine(LIMIT), time.process_time()
    for n in range(100):
        line.night(n * DAY_MS, 7.4 - 0.004 * n + 0.02 * (n * 7 % 5), 18.0)
    print(f"\n{(time.process_time() - begun) * 10:.1f} ms of processor a night and probe (40 nights fitted)")


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--dev", action="store_true", help="the seeds that were developed on")
    parser.add_argument("--ponds", type=int, default=120, help="how many ponds that run out (default 120)")
    args = parser.parse_args()
    first = DEV if args.dev else REPORT
    with ProcessPoolExecutor() as pool:
        tried = pool.map(score, range(first, first + 2 * args.ponds), chunksize=4)
        kept = [rows for rows in tried if rows][: args.ponds]
        jobs = [(kind, first + n, True) for n in range(max(1, args.ponds // 5)) for kind in KINDS]
        jobs += [("water changes", first + n, False) for n in range(max(1, args.ponds // 5))]
        held = [row for row in pool.map(quiet, jobs, chunksize=4) if row]
        piped = [rows for rows in pool.map(whole, range(first, first + args.ponds // 4)) if rows]
    running_out([row for rows in kept for row in rows], len(kept))
    running_out([row for rows in piped for row in rows], len(piped))
    holding(held)
    cost()
    return 0


if __name__ == "__main__":
    sys.exit(main())
