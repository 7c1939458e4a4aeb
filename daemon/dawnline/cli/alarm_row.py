"""Open alarms, as `status` and `alarms list` show them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from dawnline.quantity import degrees


def alarm_rows(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Each open alarm in a line or two; those of a probe that are only kept still, all in one."""
    said: dict[tuple[object, ...], list[dict[str, Any]]] = {}
    for row in rows:
        still = row["id"] is None and not row["text"]
        key = ("still", *(row.get(part) for part in ("probe", "state", "by", "why", "until"))) if still else (id(row),)
        said.setdefault(key, []).append(row)
    return [alarm_row(group[0]) if len(group) == 1 else _together(group) for group in said.values()]


def _together(group: Sequence[dict[str, Any]]) -> str:
    names = ", ".join(row["alarm"] for row in group)
    return alarm_row({**group[0], "priority": "", "alarm": names})


def alarm_row(row: dict[str, Any]) -> str:
    """One open alarm in a line or two."""
    number = "-" if row["id"] is None else row["id"]
    since = f" since {datetime.fromisoformat(row['since']):%a %d %b %H:%M}" if row["since"] else ""
    until = f", until {datetime.fromisoformat(row['until']):%a %d %b %H:%M}" if row["until"] else ""
    by = f" by {row['by']}" if row["by"] else ""
    why = f" ({row['why']})" if row.get("why") else ""
    head = f"{number:>4}  {row['priority']:<7}{row['alarm']}" + (f" [{row['probe']}]" if row["probe"] else "")
    text = f"\n      {row['text']}" if row["text"] else ""
    told = f"; told: {', '.join(row['told'])}" if row.get("told") else ""
    return degrees(f"{head}: {row['state']}{by}{why}{since}{until}{told}{text}")
