"""`dawnline replay` against the interface contract, on days worked out by hand."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

NONE = type(None)
DAY_KEYS: dict[str, Any] = {
    "event": str, "date": str, "probe": str, "dawn_low": (float, NONE), "dawn_low_at": (str, NONE),
    "dusk_high": (float, NONE), "dusk_high_at": (str, NONE), "swing": (float, NONE), "mean": (float, NONE),
    "minutes_below": float, "minutes_above": float, "coverage": float, "partial": bool,
}  # fmt: skip
ALARM_KEYS: dict[str, Any] = {
    "event": str, "id": int, "time": str, "since": str, "alarm": str, "change": str, "priority": str,
    "probe": (str, NONE), "value": (float, NONE), "text": str,
}  # fmt: skip
SUMMARY = ["event", "readings", "good", "suspect", "fail", "alarms", "seconds"]
CHANGES = {"raised", "escalated", "returned", "acknowledged", "shelved", "unshelved", "suppressed", "released"}
OFFSET = re.compile(r"[+-]\d\d:\d\d$")


def wave(minute: int) -> float:
    """pH 6.4 at 06:00, 7.6 at 18:00, straight lines of 0.1 an hour between: by symmetry 7.0 on average."""
    hours = (minute % 1440) / 60
    return round(
        7.0 - hours / 10 if hours < 6 else 6.4 + (hours - 6) / 10 if hours < 18 else 7.6 - (hours - 18) / 10, 4
    )


def recording(days: float, step: int = 5, value: Callable[[int], object] = wave, start: str = "2026-06-08") -> str:
    """Local days in Berlin's summer, a reading every `step` minutes; None leaves one out."""
    first = datetime.fromisoformat(f"{start}T00:00:00+02:00")
    rows = [(minute, value(minute)) for minute in range(0, round(days * 1440), step)]
    lines = [f"{(first + timedelta(minutes=m)).isoformat()},{v},18.5" for m, v in rows if v is not None]
    return "\n".join(["time,ph,water", *lines]) + "\n"


def low_after(minute: int) -> Callable[[int], float]:
    """An ordinary pond that from this minute on stands at 6.2."""
    return lambda m: 6.2 if m >= minute else round(7.6 - abs(m % 1440 - 720) / 1200, 4)


def test_the_lines_have_the_keys_and_types_of_the_contract(replay: Any) -> None:
    found = replay(recording(3, value=low_after(2 * 1440 + 600)), "--json")
    assert (found.status, found.err) == (0, "")
    first, *rest = found.lines
    assert first.pop("version") == 1
    assert all("version" not in row for row in rest)
    for row in [first, *rest]:
        keys = {"day": DAY_KEYS, "alarm": ALARM_KEYS}.get(row["event"], {})
        assert not keys or list(row) == list(keys)
        assert all(isinstance(row[key], kind) for key, kind in keys.items()), row
        times = [row[key] for key in ("time", "since", "dawn_low_at", "dusk_high_at") if row.get(key)]
        assert all(OFFSET.search(time) for time in times), row
    alarms = [row for row in rest if row["event"] == "alarm"]
    assert {row["change"] for row in alarms} <= CHANGES
    assert all(row["priority"] in ("low", "medium", "high") for row in alarms)
    assert rest[-1]["event"] == "summary"
    assert rest[-1].keys() >= set(SUMMARY)
    assert [key for key in rest[-1] if key in SUMMARY] == SUMMARY
    assert rest[-1]["readings"] == 2 * 3 * 288 == rest[-1]["good"] + rest[-1]["suspect"]
    assert rest[-1]["alarms"] == sum(row["change"] == "raised" for row in alarms) >= 1
    assert isinstance(rest[-1]["seconds"], float)


def test_an_alarm_by_hand(replay: Any) -> None:
    """6.2 from 10:00 to 16:40, a reading a minute: on after 10 minutes, off after 30; the smoothing adds some."""
    text = recording(1, 1, lambda m: 6.2 if 600 <= m < 1000 else 7.0)
    rows = [row for row in replay(text, "--json").lines if row.get("alarm") == "ph-low"]
    assert [row["change"] for row in rows] == ["raised", "returned"]
    raised, returned = rows
    assert raised["id"] == returned["id"]
    assert (raised["priority"], raised["probe"], raised["value"]) == ("high", "ph", 6.2)
    begun, told, over = (datetime.fromisoformat(time) for time in (raised["since"], raised["time"], returned["time"]))
    assert told - begun == timedelta(minutes=10)
    assert timedelta(0) <= begun - datetime.fromisoformat("2026-06-08T10:00+02:00") <= timedelta(minutes=10)
    back = over - datetime.fromisoformat("2026-06-08T16:40+02:00")
    assert timedelta(minutes=30) <= back <= timedelta(minutes=40)


def test_a_day_by_hand(replay: Any) -> None:
    whole, running, _ = [row for row in replay(recording(2), "--json").lines if row["event"] in ("day", "summary")]
    assert (whole["date"], whole["probe"], whole["partial"]) == ("2026-06-08", "ph", False)
    assert whole["dawn_low"] == pytest.approx(6.4, abs=0.02)
    assert whole["dusk_high"] == pytest.approx(7.6, abs=0.02)
    assert whole["swing"] == pytest.approx(whole["dusk_high"] - whole["dawn_low"], abs=2e-4)
    for key, when in (("dawn_low_at", "2026-06-08T06:00:00+02:00"), ("dusk_high_at", "2026-06-08T18:00:00+02:00")):
        off = datetime.fromisoformat(whole[key]) - datetime.fromisoformat(when)
        assert abs(off) <= timedelta(minutes=20)
    assert whole["mean"] == pytest.approx(7.0, abs=1e-4)
    assert whole["minutes_below"] == 115  # 05:05 is the first reading below 6.5, 07:00 the first that is not
    assert (whole["minutes_above"], whole["coverage"]) == (0, 1)
    assert (running["date"], running["partial"]) == ("2026-06-09", True)


def test_a_hole_in_the_day(replay: Any) -> None:
    rows = replay(recording(1.1, value=lambda m: None if 720 <= m < 1080 else wave(m)), "--json").lines
    day = next(row for row in rows if row["event"] == "day")
    # 11:55 is held for three intervals, to 12:10; then nothing until 18:00. Of the 11.5 h from noon to two hours after
    # sunset less than 60 % are covered.
    assert day["coverage"] == pytest.approx((1440 - 350) / 1440, abs=1e-4)
    assert (day["dusk_high"], day["dusk_high_at"], day["swing"]) == (None, None, None)
    assert day["dawn_low"] == pytest.approx(6.4, abs=0.02)


@pytest.mark.parametrize(("date", "hours"), [("2026-03-29", 23), ("2026-06-08", 24), ("2026-10-25", 25)])
def test_a_day_is_as_long_as_the_clock_makes_it(replay: Any, date: str, hours: int) -> None:
    start = datetime.fromisoformat(f"{date}T00:00:00Z") - timedelta(hours=2 if date > "2026-03-29" else 1)
    rows = [f"{(start + timedelta(minutes=m)).isoformat()},{7 + m % 10 / 100}" for m in range(0, (hours + 1) * 60, 5)]
    days = [row for row in replay("time,ph\n" + "\n".join(rows), "--json").lines if row["event"] == "day"]
    assert (days[0]["date"], days[0]["partial"]) == (date, False)
    assert len(days) == 2
    assert days[0]["coverage"] == 1
    assert days[1]["coverage"] == pytest.approx(55 / 1440, abs=1e-4)  # of the hour after, up to the last reading


@pytest.mark.parametrize("step", [15, 60])
def test_slow_probes_raise_no_silence(replay: Any, step: int) -> None:
    found = replay(recording(3, step, low_after(99999)), "--json").lines
    assert [row for row in found if row["event"] == "alarm"] == []
    first = next(row for row in found if row["event"] == "day")
    assert first["coverage"] == 1
    assert first["dusk_high"] == pytest.approx(7.6, abs=0.05)


def test_each_ph_probe_has_its_own_day(replay: Any, configure: Any) -> None:
    both = '[[probes]]\nname = "{}"\nquantity = "ph"\nlink = "serial"\nport = "/dev/{}"\n'
    configure(probes=both.format("pond", "a") + both.format("filter", "b"))
    rows = re.sub(r"time,ph,water", "time,filter,pond", recording(1.1, value=low_after(99999))).replace(",18.5", ",8.1")
    days = [row for row in replay(rows, "--json").lines if row["event"] == "day"]
    assert [(day["probe"], day["date"]) for day in days[:2]] == [("pond", "2026-06-08"), ("filter", "2026-06-08")]
    assert [day["mean"] for day in days[:2]] == [pytest.approx(8.1), pytest.approx(7.3, abs=0.001)]


def test_a_thermometer_alone_has_no_days(replay: Any, configure: Any) -> None:
    configure(probes='[[probes]]\nname = "water"\nquantity = "temperature"\nlink = "serial"\nport = "/dev/a"\n')
    rows = recording(1.1)
    found = replay(rows, "--json")
    assert found.status == 0
    assert {row["event"] for row in found.lines} == {"problem", "summary"}
    assert "no days yet" in replay(rows).out


def test_the_same_input_gives_the_same_lines(replay: Any) -> None:
    text = recording(3, value=low_after(2 * 1440 + 600))
    once, again = (replay(text, "--json").lines for _ in range(2))
    assert once[:-1] == again[:-1]


def test_the_plain_form_reads(replay: Any) -> None:
    found = replay(recording(2, value=low_after(1440 + 600)))
    assert found.status == 0
    assert "ph-low raised [ph]: pH 6.20, below 6.5" in found.out
    assert "Mon 2026-06-08" in found.out
    assert "(so far)" in found.out
    assert "\x1b" not in found.out


def test_the_forecasts_of_the_night_stand_among_the_lines(replay: Any) -> None:
    """Every night alike: each forecast from the fourth known night on comes within a few hundredths."""
    found = replay(recording(6, 10), "--json")
    rows = [row for row in found.lines if row.get("about") == "tonight"]
    keys = ["event", "about", "time", "night", "low", "low_p10", "low_p90", "at"]
    assert rows
    for row in rows:
        assert list(row)[: len(keys)] == keys
        assert row["about"] == "tonight"
        assert all(OFFSET.search(row[key]) for key in ("time", "at"))
        assert row["low_p10"] <= row["low"] <= row["low_p90"]
        assert row["low"] == pytest.approx(6.4, abs=0.05)
        assert (
            timedelta(hours=-24)
            < datetime.fromisoformat(f"{row['night']}T00:00+02:00") - datetime.fromisoformat(row["time"])
            < timedelta(hours=4)
        )
