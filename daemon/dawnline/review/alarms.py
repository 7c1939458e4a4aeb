"""How well the alarms serve, in words and as data."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import tzinfo
from types import MappingProxyType
from typing import Any, Final

from dawnline.alarms.performance import CHATTER, CHATTER_MS, MOST_IN_TEN, Performance
from dawnline.duration import day_and_time, iso, show_duration
from dawnline.review.words import listed

NO_TITLES: Final[Mapping[str, str]] = MappingProxyType({})


def performance_text(found: Performance, zone: tzinfo) -> str:
    """The report of `dawnline alarms report`."""
    count = len(found.raised)
    begun, ended = day_and_time(found.start, zone), day_and_time(found.end, zone)
    lines = [f"alarms from {begun} to {ended} ({found.weeks:.1f} weeks)", ""]
    if not count:
        lines.append("no alarm was raised")
    else:
        each = ", ".join(f"{number} {priority}" for priority, number in reversed(found.by_priority.items()))
        lines += [f"raised: {count}, {count / found.weeks:.1f} a week: {each}", _acknowledged(found), "", "how often:"]
        lines += [f"  {number:>4}  {name}" for name, number in found.by_alarm.items()]
    for (alarm, probe), most in found.chattering.items():
        place = f" [{probe}]" if probe else ""
        lines.append(f"chattering: {alarm}{place}: {most} times within {show_duration(CHATTER_MS)}")
    for episode in found.standing:
        place = f" [{episode.probe}]" if episode.probe else ""
        end = "still there" if episode.ended_at is None else f"until {day_and_time(episode.ended_at, zone)}"
        since = f"since {day_and_time(episode.told_at, zone)}"
        lines.append(f"standing: alarm {episode.id}, {episode.alarm}{place}, {since}, {end}")
    lines += ["", f"{'measure':<26}{'found':>8}   {'guide':<26}source"]
    lines += [
        f"{row.measure:<26}{row.found:>8} {' ' if row.well else '!'} {row.guide:<26}{row.source}"
        for row in found.guides()
    ]
    lines.append(
        "! marks what is off its guide. The standards want at least 30 days. Chattering: "
        f"{CHATTER} times or more within {show_duration(CHATTER_MS)}, our own rule."
    )
    return "\n".join(lines)


def performance_sentence(found: Performance, titles: Mapping[str, str] = NO_TITLES) -> str:
    """What of the standards' guides is not kept, in a sentence; "" where nothing was raised or stood. `titles` are
    what alarms are called; where one came of several probes, these are named.
    """
    if not found.raised and not found.standing:
        return ""
    standing = list(dict.fromkeys((each.alarm, each.probe) for each in found.standing))
    number = Counter(alarm for alarm, _ in {*found.chattering, *standing})

    def called(alarm: str, probe: str | None) -> str:
        return _quoted(alarm, titles) + (f" [{probe}]" if probe and number[alarm] > 1 else "")

    off = [
        f"{called(*which)} came {most} times within {show_duration(CHATTER_MS)}"
        for which, most in found.chattering.items()
    ]
    if standing:
        off.append(f"{listed([called(*which) for which in standing])} stood for over a day")
    if found.most_in_ten_minutes > MOST_IN_TEN:
        off.append(f"{found.most_in_ten_minutes} came within ten minutes")
    if not off:
        return "No alarm chattered or stood for over a day (the guides of ISA-18.2 and EEMUA 191)."
    return f"Not as the guides of ISA-18.2 and EEMUA 191 want it: {'; '.join(off)}."


def _quoted(alarm: str, titles: Mapping[str, str]) -> str:
    return f'"{titles[alarm]}"' if alarm in titles else alarm


def performance_line(found: Performance, zone: tzinfo) -> dict[str, Any]:
    """The same as a JSON object."""
    middle = found.median_to_acknowledge
    return {
        "event": "alarm-performance",
        "from": iso(found.start, zone),
        "to": iso(found.end, zone),
        "weeks": round(found.weeks, 3),
        "raised": len(found.raised),
        "a_week": round(len(found.raised) / found.weeks, 3) if found.weeks else None,
        "by_alarm": found.by_alarm,
        "by_priority": found.by_priority,
        "acknowledged": found.acknowledged,
        "acknowledged_share": round(found.acknowledged / len(found.raised), 3) if found.raised else None,
        "minutes_to_acknowledge": None if middle is None else round(middle / 60_000, 1),
        "shelved": sum(episode.shelved for episode in found.raised),
        "chattering": [
            {"alarm": alarm, "probe": probe, "times": most} for (alarm, probe), most in found.chattering.items()
        ],
        "standing": [
            {
                "id": each.id,
                "alarm": each.alarm,
                "probe": each.probe,
                "since": iso(each.told_at, zone),
                "until": None if each.ended_at is None else iso(each.ended_at, zone),
            }
            for each in found.standing
        ],
        "guides": [row._asdict() for row in found.guides()],
    }


def _acknowledged(found: Performance) -> str:
    times, middle = found.times_to_acknowledge, found.median_to_acknowledge
    share = f"acknowledged: {found.acknowledged} of {len(found.raised)}"
    if middle is None:
        return share
    if len(times) == 1:
        return f"{share}, after {show_duration(middle)}"
    return f"{share}, half of them within {show_duration(middle)}, the slowest after {show_duration(times[-1])}"
