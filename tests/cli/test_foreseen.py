"""What was foreseen is in the store: `status` of a stopped service knows the night and the buffer."""

from __future__ import annotations

import json
import math
from datetime import datetime, timedelta, timezone
from typing import Any

from dawnline.store.reader import Reader

SUMMER = timezone(timedelta(hours=2))


def nights(hours: int) -> str:
    """A calm pond from 1 June on, lowest before six in the morning."""
    start, rows = datetime(2026, 6, 1, tzinfo=SUMMER), ["time,ph,water"]
    for minute in range(0, 60 * hours, 5):
        at = start + timedelta(minutes=minute)
        ph = 7.4 - 0.4 * math.cos((minute / 60 - 18) * math.tau / 24 + math.pi) + 0.01 * (minute // 5 % 3)
        rows.append(f"{at.isoformat()},{ph:.3f},18.5")
    return "\n".join(rows) + "\n"


def test_the_store_holds_each_forecast_that_replay_tells(folder: Any, replay: Any, call: Any) -> None:
    told = [row for row in replay(nights(8 * 24 + 2), "--json").lines if row["event"] == "forecast"]
    assert replay(nights(8 * 24 + 2), "--store", "pond.db").status == 0
    with Reader.open(folder / "pond.db") as reader:
        for about in ("tonight", "buffer"):
            stored = [dict(each.body) for each in reader.forecasts(about, 0, 1 << 53)]
            said = [
                {key: value for key, value in row.items() if key not in ("event", "about", "time", "version")}
                for row in told
                if row["about"] == about
            ]
            assert stored == said
            assert len(said) > 6
    now = json.loads(call("status", "--json").out)
    (tonight,) = now["tonight"]
    assert tonight["night"] == "2026-06-09"
    assert tonight["low_p10"] <= tonight["low"] <= tonight["low_p90"]
    assert now["buffer"]["nights"][-1][0] == "2026-06-08"
    assert now["buffer"]["text"] == [row for row in told if row["about"] == "buffer"][-1]["text"]
    assert "tonight    ph: low about" in call("status").out


def test_by_day_no_night_is_under_way(replay: Any, call: Any) -> None:
    replay(nights(8 * 24 + 15), "--store", "pond.db")
    now = json.loads(call("status", "--json").out)
    assert (now["tonight"], now["buffer"]["nights"][-1][0]) == ([], "2026-06-09")
