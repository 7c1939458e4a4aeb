"""Abnormal nights: who is warned before the true pH passes 6.5, how long before, and who was woken too early."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import night_bound
import nights_told
import peers
from case import kept
from figures import middle, quantile, share, table
from watching import BUFFER, OF_WATER, WATCH, watch
from world import HOUR_MS

FALSE = (0.0, 0.02)  # share of the nights on which nothing befell
ALL_BUT_ACID = "all but acid"
WITH_BUFFER = f"{WATCH}, or `{BUFFER}` stands"


def one(model: str, seed: int, cache: Path | None, tune: bool) -> dict[str, Any] | None:
    """The outcome on the pond of one seed: by who warns, lead [h] or None, and high alarms before anything befell."""
    case = kept(cache, f"nights-{model}-{seed}", lambda: nights_told.tell(model, seed))
    if case is None:
        return None
    onset, passes = case.truth["onset"], case.truth["passes"]
    rows = case.readings[""].ph_rows()
    if tune:
        wakes = peers.candidates(rows)
        return {"kind": case.kind, **{who: _lead(times, onset, passes) for who, times in wakes.items()}}
    watched = watch(case.place, case.readings[""].samples(), (), case.volume_litres)
    first, any_ = watched.first(onset, passes), watched.first(onset, passes, (*OF_WATER, BUFFER))
    out: dict[str, Any] = {
        "kind": case.kind,
        "seed": seed,
        "cause_h": (passes - onset) / HOUR_MS,
        "by": first and first.name,
    }
    out["dusk"] = case.truth["dusk"]
    out["high"] = watched.first(onset, passes, priorities=("high",)) is not None
    out["medium"] = sum(1 for a in watched.alarms if a.priority == "medium" and a.at < onset and a.name in OF_WATER)
    out["bound"] = night_bound.ratios(case.truth)
    # A warning that stood when it began counts from then on.
    early = sum(1 for a in watched.alarms if a.priority == "high" and a.at < onset and a.name in OF_WATER)
    out["lead"] = {
        who: (passes - max(alarm.at, onset)) / HOUR_MS if alarm else None
        for who, alarm in ((WATCH, first), (WITH_BUFFER, any_))
    }
    out["early"] = {WATCH: early, WITH_BUFFER: early}
    for who, times in peers.peers(rows).items():
        out["lead"][who] = _lead(times, onset, passes)
        out["early"][who] = sum(1 for at in times if at < onset)
    return out


def _lead(times: list[int], onset: int, passes: int) -> float | None:
    first = next((at for at in times if onset <= at <= passes), None)
    return None if first is None else (passes - first) / HOUR_MS


def report(found: list[dict[str, Any]]) -> str:
    """The tables."""
    kinds = Counter(row["kind"] for row in found)
    rows = [_line(who, found) for who in found[0]["lead"]]
    heads = ("", "warned before 6.5", "median lead, h", "10th percentile", "nights with 3 h of lead", "early wakes")
    text = [f"{len(found)} nights: " + ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items())), ""]
    text += [table(heads, rows), "", "By cause, dawnline:"]
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
    woken, medium = sum(row["high"] for row in found), sum(row["medium"] for row in found)
    text += [f"Woken at high priority before 6.5: {share(woken, len(found))}. Medium notices before onset: {medium}."]
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


def _line(who: str, found: list[dict[str, Any]]) -> tuple[str, ...]:
    leads = [row["lead"][who] for row in found]
    zeroed = [lead or 0.0 for lead in leads]
    long = sum(lead >= 3.0 for lead in zeroed)
    early = sum(row["early"][who] for row in found)
    return (
        who,
        share(sum(lead is not None for lead in leads), len(leads)),
        middle(zeroed),
        f"{quantile(zeroed, 0.1):.1f}",
        share(long, len(leads)),
        str(early),
    )
