"""Abnormal nights: who is warned before the true pH passes 6.5, how long before, and who was woken too early."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import night_bound
import nights_peers
import nights_told
import peers
from case import kept
from figures import middle, share, table
from watching import BUFFER, OF_WATER, WATCH, watch
from world import HOUR_MS

FALSE = (0.0, 0.02)  # share of the nights on which nothing befell
ALL_BUT_ACID = "all but acid"
TOLD = f"{WATCH}, what is medium not told from 22:00 to 07:00"
AT_HIGH = f"{WATCH}, high priority alone"
WITH_BUFFER = f"{WATCH}, or `{BUFFER}` stands"


def one(model: str, seed: int, cache: Path | None) -> dict[str, Any] | None:
    """The outcome on the pond of one seed: by who warns, lead [h] or None, and wakes before anything befell."""
    case = kept(cache, f"nights-{model}-{seed}", lambda: nights_told.tell(model, seed))
    if case is None:
        return None
    onset, passes = case.truth["onset"], case.truth["passes"]
    watched = watch(case.place, case.readings[""].samples(), (), case.volume_litres)
    first, any_ = watched.first(onset, passes), watched.first(onset, passes, (*OF_WATER, BUFFER))
    high = watched.first(onset, passes, priorities=("high",))
    out: dict[str, Any] = {
        "model": model,
        "kind": case.kind,
        "seed": seed,
        "cause_h": (passes - onset) / HOUR_MS,
        "by": first and first.name,
    }
    out["dusk"] = case.truth["dusk"]
    out["medium"] = sum(1 for a in watched.alarms if a.priority == "medium" and a.at < onset and a.name in OF_WATER)
    out["bound"] = night_bound.ratios(case.truth)
    # A warning that stood when it began counts from then on.
    out["lead"] = {
        who: None if at is None else (passes - max(at, onset)) / HOUR_MS
        for who, at in (
            (WATCH, first and first.at),
            (TOLD, watched.told(onset, passes, ZoneInfo(case.place.zone))),
            (AT_HIGH, high and high.at),
            (WITH_BUFFER, any_ and any_.at),
        )
    }
    out["early"] = watched.woken(onset)
    out["peers"] = {
        who: _outcome(times, onset, passes) for who, times in peers.candidates(case.readings[""].ph_rows()).items()
    }
    return out


def _outcome(times: list[int], onset: int, passes: int) -> tuple[float | None, int]:
    first = next((at for at in times if onset <= at <= passes), None)
    early = sum(at < onset for at in peers.wakes(times))
    return None if first is None else (passes - first) / HOUR_MS, early


def report(found: list[dict[str, Any]]) -> str:
    """The tables."""
    kinds = Counter(row["kind"] for row in found)
    early = sum(row["early"] for row in found)
    watch_rows = [_outcome_of(who, found, early) for who in found[0]["lead"]]
    plain = next(each for each in nights_peers.outcomes(found, "limit") if each.setting == peers.PLAIN)
    rows = [nights_peers.line(each.setting, each) for each in (*watch_rows, plain)]
    heads = ("", "warned before 6.5", "median lead, h", "10th percentile", "nights with 3 h of lead", "early wakes")
    text = [f"{len(found)} nights: " + ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items())), ""]
    told = next(each.warned for each in watch_rows if each.setting == TOLD)
    by_peer = nights_peers.report(found, found[0]["model"], told, early)
    text += [table(heads, rows), "", "The peers at other settings:", "", by_peer, "", "By cause, dawnline:"]
    slow = middle([row["cause_h"] for row in found])
    heads = ("", "nights", "from cause to 6.5, h", "warned before 6.5", "median lead, h", "warned by")
    by_kind = []
    for kind in [*sorted(kinds), ALL_BUT_ACID]:
        some = [row for row in found if row["kind"] == kind or (kind == ALL_BUT_ACID and row["kind"] != "acid")]
        names = Counter(row["by"] for row in some if row["by"])
        leads = [row["lead"][WATCH] or 0.0 for row in some]
        warned = sum(row["lead"][WATCH] is not None for row in some)
        by_kind.append(
            (kind, str(len(some)), middle([row["cause_h"] for row in some]), share(warned, len(some)), middle(leads),
             ", ".join(f"{n} {name}" for name, n in names.items()))
        )  # fmt: skip
    text += ["", table(heads, by_kind), "", f"From cause to 6.5, all: {slow} h. Lead of a night without warning: 0."]
    missed = [str(row["seed"]) for row in found if row["lead"][WATCH] is None]
    text += [f"Bloom nights whose pH was at 9 or more in the last three days: {_bright(found)}."]
    text += ["", _at_best(found)]
    text += [f"Medium notices before onset: {sum(row['medium'] for row in found)}."]
    return "\n".join([*text, f"Seeds without warning: {', '.join(missed) or 'none'}."])


def _at_best(found: list[dict[str, Any]]) -> str:
    """What one could do that knows the night but its size, and how much of the cause's time each uses."""
    rows = []
    for false in FALSE:
        least = night_bound.threshold([row["bound"][1] for row in found], false)
        leads = [night_bound.lead_h(row["bound"][0], least) for row in found]
        rows.append((f"at best, {100 * false:.0f} % of quiet nights woken", *_of_time(leads, found)))
    rows.append((WATCH, *_of_time([row["lead"][WATCH] for row in found], found)))
    return table(("", "warned before 6.5", "an hour before", "3 h before", "median lead, h", "of the time since"), rows)


def _of_time(leads: list[float | None], found: list[dict[str, Any]]) -> tuple[str, ...]:
    zeroed = [lead or 0.0 for lead in leads]
    of_time = [lead / row["cause_h"] for lead, row in zip(zeroed, found, strict=True)]
    counts = (sum(lead is not None for lead in leads), *(sum(lead >= h for lead in zeroed) for h in (1.0, 3.0)))
    return *(share(count, len(found)) for count in counts), middle(zeroed), middle(of_time, 2)


def _bright(found: list[dict[str, Any]]) -> str:
    blooms = [row for row in found if row["kind"] == "bloom"]
    return f"{sum(row['dusk'] >= 9.0 for row in blooms)} of {len(blooms)}"


def _outcome_of(who: str, found: list[dict[str, Any]], early: int) -> nights_peers.Outcome:
    leads = [row["lead"][who] for row in found]
    warned = sum(lead is not None for lead in leads)
    return nights_peers.Outcome(who, warned, tuple(lead or 0.0 for lead in leads), early)
