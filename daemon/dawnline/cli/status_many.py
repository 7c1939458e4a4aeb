"""`dawnline status` of many ponds: a line each, and what makes one not well."""

from __future__ import annotations

import json
from collections.abc import Sequence
from operator import itemgetter
from pathlib import Path
from typing import Any

from dawnline.contract import held_against
from dawnline.duration import show_duration
from dawnline.errors import StoreError
from dawnline.quantity import QUANTITIES, degrees
from dawnline.queries.present import Present, find_present
from dawnline.settings import Settings
from dawnline.store.upkeep import damaged


def status_of_many(ponds: Sequence[Settings], *, as_json: bool) -> int:
    """Print them, those that are not well first; 1 where there are some. A list of objects `as_json`, as they came."""
    rows: list[dict[str, Any]] = []
    lines: list[tuple[bool, str]] = []
    for settings in ponds:
        name = settings.pond.name
        try:
            present = find_present(settings)
        except StoreError as error:  # the others are to be seen all the same
            rows.append({"version": 1, "pond": name, "running": False, "written_s_ago": None, "error": str(error)})
            lines.append((False, f"{name}: {error}"))
            continue
        aside = damaged(settings.store.path)
        rows.append(as_object(present, aside))
        wrong = troubles(present) + (["a damaged record was set aside"] if aside else [])
        lines.append((not wrong, f"{name}: {'; '.join([*wrong, *_values(present)])}"))
    if as_json:
        print(json.dumps(rows, ensure_ascii=False))
    else:
        said = [f"{'well    ' if well else 'NOT WELL'}  {text}" for well, text in sorted(lines, key=itemgetter(0))]
        print(degrees("\n".join(said)))
    return 0 if all(well for well, _ in lines) else 1


def as_object(present: Present, aside: Sequence[Path]) -> dict[str, Any]:
    """One pond as `status --json` says it; `aside` are damaged stores of it."""
    age = None if present.age_s is None else round(present.age_s, 1)
    head = {"version": 1, "running": present.running, "written_s_ago": age}
    return {**head, **present.data, "damaged_stores": [str(each) for each in aside], "version": 1}


def troubles(present: Present) -> list[str]:
    """What is not well, in a few words each; nothing where all is."""
    data = present.data
    wrong = [] if present.running else ["nobody watches it"]
    waiting = [row for row in data["alarms"] if row["state"] == "unacknowledged"]
    wrong += [f"{row['title']} ({row['priority']}, no. {row['id']})" for row in waiting]
    wrong += [f"{link['name']}: {link['state']}" for link in data["links"] if link["state"] != "connected"]
    unreached = data.get("post", {}).get("failing")
    wrong += [f"not reached: {', '.join(unreached)}"] if unreached else []
    wrong += ["nothing is written"] if data.get("store", {}).get("trouble") else []
    wrong += ["heartbeat not taken"] if (data.get("heartbeat") or {}).get("failing") else []
    return wrong


def _values(present: Present) -> list[str]:
    """The newest value of each probe; how far to trust it where it is not good, and its age where over a minute."""
    shown = []
    for name, probe in present.data["probes"].items():
        if probe["value"] is None:
            shown.append(f"{name} none yet")
            continue
        ph = probe["quantity"] == "electrode_mv"
        text = QUANTITIES["ph" if ph else probe["quantity"]].show(probe["ph"] if ph else probe["value"])
        old = probe["age_s"] * 1000
        less = held_against(probe) + ([f"{show_duration(old)} old"] if old > 60_000 else [])
        shown.append(f"{name} {text}" + (f" ({', '.join(less)})" if less else ""))
    return [", ".join(shown)] if shown else []
