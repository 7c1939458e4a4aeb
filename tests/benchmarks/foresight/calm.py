"""Calm ponds: who cries wolf, and who is given a date for a buffer that lasts."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import calm_told
import nights_peers
import peers
import tonight
from case import kept
from dawns import Blocks
from figures import poisson, share, table
from watching import WATCH, Watched, watch

WEEKS = calm_told.DAYS / 7


def one(model: str, seed: int, cache: Path | None) -> dict[str, Any] | None:
    """The outcome on the pond of one seed: alarms by who raises them, and whether a date was given."""
    case = kept(cache, f"calm-{model}-{seed}", lambda: calm_told.tell(model, seed))
    if case is None:
        return None
    rows = case.readings[""].ph_rows()
    watched = watch(case.place, case.readings[""].samples(), case.acts[""], case.volume_litres)
    out: dict[str, Any] = {"kind": case.kind, "seed": seed, "refused": watched.refused, "dated": dated(watched)}
    out["names"] = {
        priority: [alarm.name for alarm in watched.alarms if alarm.priority == priority]
        for priority in ("high", "medium")
    }
    out["guesses"] = tonight.guesses(Blocks(rows), case.place, watched.forecasts)
    out["wakes"] = {WATCH: len(out["names"]["high"])}
    wanted = (peers.PLAIN, *nights_peers.CHOSEN[model].values())
    out["wakes"] |= {w: len(peers.wakes(times)) for w, times in peers.candidates(rows).items() if w in wanted}
    return out


def dated(watched: Watched) -> bool:
    """Was a day named on which the buffer would be gone?"""
    return any(f.about == "buffer" and f.body.get("reaches_low_on") for f in watched.forecasts)


def report(found: list[dict[str, Any]]) -> str:
    """The tables."""
    weeks = WEEKS * len(found)
    rows = []
    for who in found[0]["wakes"]:
        wakes = sum(row["wakes"][who] for row in found)
        low, high = poisson(wakes)
        woken = sum(row["wakes"][who] > 0 for row in found)
        rate = f"{100 * wakes / weeks:.1f} ({100 * low / weeks:.1f}-{100 * high / weeks:.1f})"
        rows.append((who, rate, share(woken, len(found))))
    text = [f"{len(found)} ponds, {weeks:.0f} pond-weeks", ""]
    text += [table(("", "wakes at high priority in 100 pond-weeks", "ponds woken"), rows), ""]
    for kind in sorted({row["kind"] for row in found}):
        some = [row for row in found if row["kind"] == kind]
        text.append(f"{kind}: {len(some)} ponds; high: {_names(some, 'high')}; medium: {_names(some, 'medium')}")
    dates = [row for row in found if row["dated"]]
    text += ["", f"Stable ponds given a date: {share(len(dates), len(found))}; seeds {[row['seed'] for row in dates]}"]
    refused = {text for row in found for text in row["refused"]}
    return "\n".join(text + [f"Refused acts: {refused}"] * bool(refused))


def _names(rows: list[dict[str, Any]], priority: str) -> str:
    names = Counter(name for row in rows for name in row["names"][priority])
    return ", ".join(f"{n} {name}" for name, n in names.items()) or "none"
