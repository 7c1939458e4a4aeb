"""What of the sentences is about the watch itself: its alarms, and what it did not see."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

from dawnline.duration import HOUR_MS, MINUTE_MS, show_duration
from dawnline.review.alarms import performance_sentence
from dawnline.review.week import Week
from dawnline.review.words import count, earlier, moment

Figures: TypeAlias = dict[str, float | None]
Said: TypeAlias = Iterator[tuple[str, str, Figures]]

WELL_SEEN: Final = 0.9


def alarms(week: Week) -> Said:
    """How many there were, and how soon somebody had them; and how many stood already."""
    now, before = week.handling, week.handling_before
    stood = len({each.id for each in week.stretch.standing})
    older = f"; {stood} stood from before" if stood else ""
    if not now.raised:
        yield "alarms", f"No alarm was raised ({before.raised} {in_earlier(week)}){older}.", {"raised": 0.0}
        return
    by = ", ".join(f"{number} {priority}" for priority, number in now.by_priority.items())
    text = f"{count(now.raised, 'alarm')} raised ({by}; {before.raised} {in_earlier(week)})"
    figures: Figures = {"raised": float(now.raised), "raised_before": float(before.raised)}
    if now.answered_after is not None:
        text += f"; {now.acknowledged} acknowledged, half of them within {show_duration(now.answered_after)}"
        figures |= {"acknowledged": float(now.acknowledged), "answered_after_min": now.answered_after / MINUTE_MS}
    elif now.acknowledged == 0:
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
