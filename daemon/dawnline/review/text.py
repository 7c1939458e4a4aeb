"""The review as text: a table of days with a small line drawn in characters, and the alarms."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import Final

from dawnline.duration import show_duration
from dawnline.event import Day, Transition
from dawnline.review.alarms import NO_TITLES

BLOCKS: Final = "▁▂▃▄▅▆▇█"
ASCII_BLOCKS: Final = "_.:-=+*#"  # for a terminal that has no others
CORRECTED: Final = 11  # width of a column
_MARKS: Final = {"high": "!!", "medium": "! ", "low": "- "}


def line(values: Sequence[float | None], low: float, high: float, blocks: str = BLOCKS) -> str:
    """Values as a line of characters between `low` and `high`; a gap where there is none.

    >>> line([6.5, 7.0, None, 7.5], 6.5, 7.5)
    '▁▅ █'
    """
    span = high - low or 1.0
    top = len(blocks) - 1
    return "".join(
        " " if value is None else blocks[min(top, max(0, round((value - low) / span * top)))] for value in values
    )


def day_table(
    days: Sequence[Day],
    zone: tzinfo,
    lines: dict[tuple[str, str], str] | None = None,
    lows: dict[tuple[str, str], float | None] | None = None,
    doubted: Collection[tuple[str, str]] = (),
) -> str:
    """A table of days, one row a day and probe; `lines` gives the small line of (date, probe), `lows` its corrected
    dawn low; on those `doubted` the probe could not be believed.
    """
    if not days:
        return "no days yet"
    probes = {day.probe for day in days}
    wide = max(6, *map(len, probes)) + 1 if len(probes) > 1 else 0  # of the column with their names
    drawn = lines or {}
    head = f"{'day':<15}{'probe' if wide else '':<{wide}}{'dawn low':>15}"
    head += f"{'corrected':>{CORRECTED}}" if lows else ""
    head += f"{'dusk high':>16}{'swing':>7}{'mean':>7}"
    head += f"{'below':>9}{'above':>9}{'seen':>6}"
    rows = [head + ("   midnight to midnight" if drawn else "")]
    for day in days:
        name = datetime.fromisoformat(day.date).strftime("%a %Y-%m-%d")
        row = f"{name:<15}{day.probe if wide else '':<{wide}}"
        row += f"{_figure_at(day.dawn_low, day.dawn_low_at, zone):>15}"
        row += f"{_figure(lows.get((day.date, day.probe))):>{CORRECTED}}" if lows else ""
        row += f"{_figure_at(day.dusk_high, day.dusk_high_at, zone):>16}"
        row += f"{_figure(day.swing):>7}{_figure(day.mean):>7}"
        row += f"{_minutes(day.minutes_below):>9}{_minutes(day.minutes_above):>9}{day.coverage:>6.0%}"
        row += f"   {drawn.get((day.date, day.probe), '')}" if drawn else ""
        row += " (so far)" if day.partial else ""
        rows.append((row + (" doubted" if (day.date, day.probe) in doubted else "")).rstrip())
    return "\n".join(rows)


def alarm_text(transition: Transition, zone: tzinfo, titles: Mapping[str, str] = NO_TITLES) -> str:
    """One alarm transition in a line; under its title where `titles` has one."""
    when = datetime.fromtimestamp(transition.at / 1000, zone).strftime("%a %Y-%m-%d %H:%M")
    where = f" [{transition.probe}]" if transition.probe else ""
    title = titles.get(transition.alarm)
    name = f"{transition.alarm} " if title is None else f"{title}, "
    by = f" by {transition.actor}" if transition.actor else ""
    return (
        f"{when}  {_MARKS[transition.priority]}{name}{transition.change}{by}{where}: "
        f"{transition.text} (alarm {transition.id}, {transition.priority})"
    )


def alarm_list(transitions: Iterable[Transition], zone: tzinfo, titles: Mapping[str, str] = NO_TITLES) -> str:
    """Alarm transitions, one a line."""
    return "\n".join(alarm_text(each, zone, titles) for each in transitions) or "no alarms"


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _figure_at(value: float | None, at: int | None, zone: tzinfo) -> str:
    if value is None or at is None:
        return "-"
    return f"{value:.2f} {datetime.fromtimestamp(at / 1000, zone).strftime('at %H:%M')}"


def _minutes(minutes: float) -> str:
    return "-" if minutes < 0.5 else show_duration(minutes * 60_000).replace(" min", "m").replace(" h", "h")
