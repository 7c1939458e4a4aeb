"""What changed, and why it may have: a few plain sentences, each with the figures it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, show_duration
from dawnline.event import Act, Day
from dawnline.outlook.rain_book import fallen_mm
from dawnline.review.rain import rain_said
from dawnline.review.sentences_watch import (
    Figures,
    Said,
    alarm_guides,
    alarms,
    doubted,
    earlier_days,
    in_earlier,
    record,
)
from dawnline.review.summary import Extreme
from dawnline.review.week import Beside, Week
from dawnline.review.words import clock, entry_line, listed, on_day, than

# What is worth a word. Common practice, no source.
LEAST_LOWS: Final = 3  # nights of either side
SHIFT_PH: Final = 0.05
SHIFT_SWING: Final = 0.1
SHIFT_C: Final = 1.0
SHIFT_RAIN_MM: Final = 10.0
SHIFT_FEED: Final = 0.2
STANDS_OUT_PH: Final = 0.1  # the lowest night below the mean of the others
BEFORE_MS: Final = DAY_MS  # an act this long before a low may have to do with it


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence and the figures it rests on, by name: pH, degC, mm, minutes or shares."""

    about: str
    text: str
    figures: Figures


def sentences(week: Week) -> list[Sentence]:
    """All of them, the water first, then what was foreseen, the alarms and the record itself."""
    found: list[Sentence] = []
    several = len(week.probes) > 1
    for beside in week.probes:
        if beside.now.days == 0:
            continue
        name = f"{beside.now.probe}: " if several else ""
        for say in (doubted, _lows, _lowest, _swing, _outside):
            found += [Sentence(about, name + text, figures) for about, text, figures in say(week, beside)]
    if not found:
        other = any(each.now.mean is not None for each in week.others)
        if not (other or week.rain or week.episodes or week.logbook):
            return [Sentence("record", "Nothing was recorded on these days.", {})]
        found.append(Sentence("record", "No pH was recorded on these days.", {}))
    for tell in (_warmth, _rain, _buffer, _tonight, _foreseen, alarms, alarm_guides, record):
        found += [Sentence(*each) for each in tell(week)]
    return found


def _lows(week: Week, beside: Beside) -> Said:
    now, before, year = beside.now, beside.before, beside.year_ago
    if now.dawn_low is None:
        yield "dawn-low", "No day has a dawn low: too little was seen before the mornings.", {}
        return
    text = f"The dawn lows averaged {now.dawn_low:.2f}"
    if now.lows == 1 and now.lowest is not None:
        text = f"The dawn low was {now.dawn_low:.2f}{_when(week, beside, now.lowest)}"
    figures: Figures = {"dawn_low": now.dawn_low}
    change = None
    if before is not None and before.dawn_low is not None and before.lows >= LEAST_LOWS <= now.lows:
        change = now.dawn_low - before.dawn_low
        beside_them = than(change, SHIFT_PH, "lower", "higher", "about the same as")
        text += f", {beside_them} {earlier_days(week)} ({before.dawn_low:.2f})"
        figures["dawn_low_before"] = before.dawn_low
    if year is not None and year.dawn_low is not None and year.lows >= LEAST_LOWS:
        text += f"; a year ago {year.dawn_low:.2f}"
        figures["dawn_low_year_ago"] = year.dawn_low
    why = [] if change is None or abs(change) < SHIFT_PH else list(_reasons(week, change))
    for _, more in why:
        figures |= more
    reason = f". It may have to do with {listed([words for words, _ in why])}" if why else ""
    yield "dawn-low", f"{text}{reason}.", figures


def _reasons(week: Week, change: float) -> Iterator[tuple[str, Figures]]:
    """What can move dawn lows this way: a buffer that is used up, warmth, rain, feed, new water."""
    used = _used(week)
    if change < 0 and used is not None:
        yield f"the buffer, which is being used up ({used:g} % a day)", {"used_a_day_percent": used}
    means = _means_c(week)
    if means is not None and abs(warmer := means[0] - means[1]) >= SHIFT_C and (warmer > 0) == (change < 0):
        words, more = ("warmer", "more") if warmer > 0 else ("colder", "less")
        text = f"water {abs(warmer):.1f} \N{DEGREE SIGN}C {words} ({more} breath by night)"
        yield text, {"warmer_c": warmer}
    fell = week.rain
    if change < 0 and fell is not None and fell.mm - (fell.before or 0.0) >= SHIFT_RAIN_MM:
        after = "" if fell.before is None else f" after {fell.before:.3g}"
        yield f"{fell.mm:.3g} mm of rain{after} (rain thins the buffer)", {"rain_mm": fell.mm}
    feed, fed = _feed(week.logbook), _feed(week.logbook_before)
    if feed is not None and fed and abs(feed - fed) > SHIFT_FEED * fed and (feed > fed) == (change < 0):
        words = "more" if feed > fed else "less"
        yield f"{words} feed ({feed:g} g a day after {fed:g})", {"feed_g_a_day": feed}
    changes = sum(act.kind == "water-change" for act in week.logbook)
    if changes:
        yield ("a water change" if changes == 1 else f"{changes} water changes"), {"water_changes": float(changes)}


def _lowest(week: Week, beside: Beside) -> Said:
    """The night that stands out, and what was done within a day before it."""
    low = beside.now.lowest
    day = None if low is None else _day(week, beside, low)
    if low is None or day is None or day.dawn_low_at is None or beside.now.lows == 1:
        return
    others = [d.dawn_low for d in week.stretch.days
              if d.probe == day.probe and d.date != low.date and d.dawn_low is not None]  # fmt: skip
    text = f"The lowest dawn was {low.value:.2f} on {on_day(low.date)} at {clock(day.dawn_low_at, week.zone)}"
    figures: Figures = {"lowest": low.value}
    if len(others) >= LEAST_LOWS and (below := sum(others) / len(others) - low.value) >= STANDS_OUT_PH:
        text += f", {below:.2f} below the mean of the others"
        figures["below_the_others"] = below
        done = [a for a in week.logbook if 0 <= day.dawn_low_at - a.at <= BEFORE_MS and a.kind in _CAN_LOWER]
        rained = fallen_mm(week.stretch.rain, day.dawn_low_at - BEFORE_MS, day.dawn_low_at)
        if rained >= SHIFT_RAIN_MM:
            text += f", after {rained:.0f} mm of rain within a day"
            figures["rain_mm"] = rained
            done = [act for act in done if act.kind != "rain"]
        if done:
            hours = (day.dawn_low_at - done[-1].at) / HOUR_MS
            text += (
                f", {hours:.0f} hours after an entry that may have to do with it ({entry_line(done[-1], week.units)})"
            )
            figures["hours_after"] = hours
    yield "lowest", text + ".", figures


_CAN_LOWER: Final = (
    "rain", "water-change", "top-up", "dose", "feed", "feeding", "aeration", "algaecide", "medication", "media",
)  # fmt: skip


def _swing(week: Week, beside: Beside) -> Said:
    now, before, wide = beside.now, beside.before, beside.now.widest
    if now.swing is None or wide is None:
        return
    one = sum(day.swing is not None for day in week.stretch.days if day.probe == now.probe) == 1
    text = f"From dawn to dusk it swung by {now.swing:.2f}{'' if one else ' on average'}"
    figures: Figures = {"swing": now.swing, "widest": wide.value}
    if before is not None and before.swing is not None:
        change = than(now.swing - before.swing, SHIFT_SWING, "less", "more", "about as much as")
        text += f", {change} {earlier_days(week)} ({before.swing:.2f})"
        figures["swing_before"] = before.swing
    beyond = f", over the {week.limits.swing_wide:g} that count as wide" if wide.value > week.limits.swing_wide else ""
    most = "" if one else f"; by {wide.value:.2f} at most, on {on_day(wide.date)}"
    yield "swing", f"{text}{most}{beyond}.", figures


def _outside(week: Week, beside: Beside) -> Said:
    now, limits = beside.now, week.limits
    parts = [
        f"{where} {limit:g} for {show_duration(minutes * MINUTE_MS)}"
        for where, limit, minutes in (
            ("below", limits.ph_low, now.minutes_below), ("above", limits.ph_high, now.minutes_above)
        ) if minutes >= 1
    ]  # fmt: skip
    figures: Figures = {"minutes_below": now.minutes_below, "minutes_above": now.minutes_above}
    if parts:
        yield "outside", f"pH lay {' and '.join(parts)}.", figures
    elif now.coverage > 0:
        yield "outside", f"While it was seen, pH stayed between {limits.ph_low:g} and {limits.ph_high:g}.", figures


def _warmth(week: Week) -> Said:
    means = _means_c(week)
    if means is None or abs(warmer := means[0] - means[1]) < SHIFT_C:
        return
    words = f"The water was {abs(warmer):.1f} \N{DEGREE SIGN}C {'warmer' if warmer > 0 else 'colder'} than"
    figures: Figures = {"mean_c": means[0], "warmer_c": warmer}
    yield "warmth", f"{words} {earlier_days(week)} ({means[0]:.1f} \N{DEGREE SIGN}C).", figures


def _rain(week: Week) -> Said:
    if week.rain is not None:
        several = len(week.stretch.dates) > 1
        yield "rain", *rain_said(week.rain, in_earlier(week), several=several)


def _buffer(week: Week) -> Said:
    if (used := _used(week)) is not None:
        body = week.stretch.mornings[-1].body
        yield (
            "buffer",
            f"On the last morning: {body['text']}.",
            {"used_a_day_percent": used, "lead_days": body["lead_days"]},
        )


def _tonight(week: Week) -> Said:
    for probe, told in week.coming.items():
        whose = f"{probe}: " if len(week.coming) > 1 else ""
        text = f"{whose}Tonight's low is expected at {told.low:.2f} ({told.low_p10:.2f} to {told.low_p90:.2f})"
        figures: Figures = {"low": told.low, "low_p10": told.low_p10, "low_p90": told.low_p90}
        yield "tonight", f"{text}, near {clock(told.low_at, week.zone)}.", figures


def _foreseen(week: Week) -> Said:
    judged = [(night.within, night.error) for night in week.nights if night.within is not None]
    if judged:
        held = sum(bool(within) for within, _ in judged)
        off = sum(abs(error) for _, error in judged if error is not None) / len(judged)
        yield (
            "forecasts",
            f"Three hours after sunset the forecast's bounds held {held} of {len(judged)} dawn lows (eight of ten are "
            f"meant to); it was {off:.2f} off on average.",
            {"nights": float(len(judged)), "held": float(held), "off": off},
        )


# ------------------------------------------------------------ figures


def _when(week: Week, beside: Beside, of: Extreme) -> str:
    """At which time, and where there are more days on which of them."""
    day = _day(week, beside, of)
    at = None if day is None else day.dawn_low_at
    on = f" on {on_day(of.date)}" if len(week.stretch.dates) > 1 else ""
    return on if at is None else f"{on} at {clock(at, week.zone)}"


def _day(week: Week, beside: Beside, of: Extreme) -> Day | None:
    found = (day for day in week.stretch.days if day.probe == beside.now.probe and day.date == of.date)
    return next(found, None)


def _used(week: Week) -> float | None:
    """How much of the buffer went each day [percent], by the last morning's line; None unless it falls."""
    last = week.stretch.mornings[-1] if week.stretch.mornings else None
    if last is None or last.body["trend"] != "falling":
        return None
    used = last.evidence.get("used_a_day_percent")
    return None if used is None else float(used)


def _means_c(week: Week) -> tuple[float, float] | None:
    """The mean of these days and of those before [degC], by the first thermometer that has both."""
    for each in week.others:
        before = None if each.before is None else each.before.mean
        if each.now.quantity == "temperature" and each.now.mean is not None and before is not None:
            return each.now.mean, before
    return None


def _feed(acts: Sequence[Act]) -> float | None:
    """What was last said to be fed a day [g]."""
    return next((float(act.body["grams_a_day"]) for act in reversed(acts) if act.kind == "feed"), None)
