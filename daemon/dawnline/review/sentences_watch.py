"""What of the sentences is about the watch itself: its alarms, and what it did not see."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from statistics import median
from typing import Final, TypeAlias

from dawnline.duration import HOUR_MS, MINUTE_MS, show_duration
from dawnline.event import PRIORITIES
from dawnline.review.alarms import performance_sentence
from dawnline.review.week import Beside, Week
from dawnline.review.words import count, earlier, moment

Figures: TypeAlias = dict[str, float | None]
Said: TypeAlias = Iterator[tuple[str, str, Figures]]

WELL_SEEN: Final = 0.9


def doubted(week: Week, beside: Beside) -> Said:
    """When the probe could not be believed: its figures of these days may be its own."""
    found = week.doubts(beside.now.probe)
    if not found:
        return
    last = found[-1]
    ended = "on" if last.ended_at is None else f"to {moment(last.ended_at, week.zone)}"
    when = f"from {moment(last.told_at, week.zone)} {ended}"
    times = "" if len(found) == 1 else f"{len(found)} times, the last time "
    text = f"The probe was doubted {times}{when}: {last.text}. What it showed then may be its own and not the water's."
    yield "doubted", text, {"doubted": float(len(found))}


def alarms(week: Week) -> Said:
    """How many there were, and how soon somebody had them; and how many stood already."""
    raised, before = week.raised, f"{week.raised_before} {in_earlier(week)}"
    stood = len({each.id for each in week.stretch.standing})
    older = f"; {stood} stood from before" if stood else ""
    if not raised:
        yield "alarms", f"No alarm was raised ({before}){older}.", {"raised": 0.0}
        return
    numbers = Counter(each.priority for each in raised)
    by = ", ".join(f"{numbers[priority]} {priority}" for priority in reversed(PRIORITIES) if numbers[priority])
    text = f"{count(len(raised), 'alarm')} raised ({by}; {before})"
    figures: Figures = {"raised": float(len(raised)), "raised_before": float(week.raised_before)}
    answered = [each.answered_after for each in raised if each.answered_after is not None]
    if answered:
        middle = median(answered)
        halves = ", half of them within" if len(answered) > 1 else " after"
        text += f"; {len(answered)} acknowledged{halves} {show_duration(middle)}"
        figures |= {"acknowledged": float(len(answered)), "answered_after_min": middle / MINUTE_MS}
    else:
        text += "; none was acknowledged"
    yield "alarms", text + older + ".", figures


def alarm_guides(week: Week) -> Said:
    """Which of the standards' guides was not kept."""
    found = week.performance
    if said := performance_sentence(found, week.titles):
        counts = {"chattering": len(found.chattering), "standing": len(found.standing)}
        yield "alarm-guides", said, {name: float(number) for name, number in counts.items()}


def record(week: Week) -> Said:
    """What was not seen."""
    for beside in week.probes:
        seen = beside.now.coverage
        own = [gap for gap in week.gaps if gap.probe == beside.now.probe]
        if seen >= WELL_SEEN and not own:
            continue
        text = f"Of {beside.now.probe}, {seen:.0%} of the time was seen"
        figures: Figures = {"coverage": seen}
        if own:
            longest = max(own, key=lambda gap: gap.end - gap.start)
            hours = longest.end - longest.start
            text += f"; the longest gap is {show_duration(hours)} from {moment(longest.start, week.zone)}"
            figures["longest_gap_hours"] = hours / HOUR_MS
        yield "record", f"{text}. What happened meanwhile is not in these figures.", figures


def earlier_days(week: Week) -> str:
    """The days before, by their number."""
    return earlier(len(week.stretch.dates))


def in_earlier(week: Week) -> str:
    """The same, where something happened in them."""
    return f"in {earlier_days(week)}" if len(week.stretch.dates) > 1 else earlier_days(week)
