"""An open alarm, as `status` and `alarms list` show it."""

from __future__ import annotations

from datetime import datetime
from typing import Any


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
    return f"{head}: {row['state']}{by}{why}{since}{until}{told}{text}"
