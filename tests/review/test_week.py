"""The week as plain data: summaries, nights, episodes, gaps and the sentences that rest on them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.episodes import episodes
from dawnline.alarms.performance import measure
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, iso
from dawnline.event import Act, Day, Forecast, Transition
from dawnline.outlook.rain_book import by_hand, counted
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sun import Sun
from dawnline.review.nights import nights
from dawnline.review.sentences import sentences
from dawnline.review.stretch import Series, Stretch
from dawnline.review.tables import days_table
from dawnline.review.text import day_table
from dawnline.review.week import Week, look_back
from dawnline.review.words import moment
from dawnline.rollup import STEP_MS, Rollup

from ..pond import POND

ZONE = ZoneInfo("Europe/Berlin")
SUN = Sun(POND.latitude, POND.longitude, ZONE)
FIRST = date(2026, 6, 8)


def ms(on: date, hour: float = 0.0) -> int:
    return round(datetime(on.year, on.month, on.day, tzinfo=ZONE).timestamp() * 1000 + hour * HOUR_MS)


def day(on: date, low: float | None, high: float | None = 7.8, coverage: float = 1.0) -> Day:
    swing = None if low is None or high is None else high - low
    return Day(str(on), "ph", low, None if low is None else ms(on, 5.5), high, None if high is None else ms(on, 16),
               swing, None if not coverage else 7.4, 0.0, 0.0, coverage, False)  # fmt: skip


def quarters(first: date, days: int, celsius: float) -> list[Rollup]:
    return [Rollup(at, 90, celsius - 1, celsius + 1, 90 * celsius, 0)
            for at in range(ms(first), ms(first + timedelta(days=days)), STEP_MS)]  # fmt: skip


def stretch(first: date, lows: list[float | None], celsius: float | None = 18.0, **more: Any) -> Stretch:
    last = first + timedelta(days=len(lows) - 1)
    days = [day(first + timedelta(days=n), low) for n, low in enumerate(lows)]
    series = [
        Series("ph", "ph", [r._replace(low=7.0, high=7.9, total=90 * 7.4) for r in quarters(first, len(lows), 7)])
    ]
    series += [] if celsius is None else [Series("water", "temperature", quarters(first, len(lows), celsius))]
    rain = counted(more.pop("gauged", []), by_hand(more.get("acts", [])))
    return Stretch(first, last, ms(first), ms(last + timedelta(days=1)), days=days, series=series, rain=rain, **more)


def week(now: Stretch, before: Stretch | None = None, year: Stretch | None = None) -> Week:
    number = len(now.dates)
    empty = [
        Stretch(start, start + timedelta(days=number - 1), ms(start), ms(start + timedelta(days=number)))
        for start in (now.first - timedelta(days=number), now.first - timedelta(days=364))
    ]
    return look_back(now, before or empty[0], year or empty[1], POND, LimitSettings(), as_of=now.end)


def told(of: Week, about: str) -> str:
    return " ".join(each.text for each in sentences(of) if each.about == about)


LOWS: list[float | None] = [7.0, 7.1, 6.9, 7.0, 7.0, 7.1, 6.9]


def test_means_extremes_and_what_is_not_known() -> None:
    found = week(stretch(FIRST, [7.0, None, 6.8])).probes[0]
    assert found.now.dawn_low == pytest.approx(6.9)
    assert found.now.lowest == (6.8, "2026-06-10")
    assert (found.now.days, found.now.lows, found.now.coverage) == (3, 2, 1.0)
    assert (found.before, found.year_ago) == (None, None)


def test_a_lower_low_is_told_with_its_reasons_and_figures() -> None:
    rain = [Act("a", ms(FIRST, 20), "rain", {"mm": 22.0}, "ada")]
    now = stretch(FIRST, [low - 0.2 for low in LOWS if low], celsius=20.0, acts=rain)
    found = week(now, stretch(FIRST - timedelta(days=7), LOWS, celsius=18.0))
    (said,) = [each for each in sentences(found) if each.about == "dawn-low"]
    assert said.text == (
        "The dawn lows averaged 6.80, 0.20 lower than the week before (7.00). It may have to do with water 2.0 °C "
        "warmer (more breath by night) and 22 mm of rain after 0 (rain thins the buffer)."
    )
    assert said.figures == {
        "dawn_low": pytest.approx(6.8), "dawn_low_before": pytest.approx(7.0), "warmer_c": pytest.approx(2.0),
        "rain_mm": 22.0,
    }  # fmt: skip


def test_what_is_foreseen_is_told_with_its_figures() -> None:
    body = {"trend": "falling", "lead_days": 4, "text": "the buffer is being used up; a date"}
    morning = Forecast("buffer", ms(FIRST, 150), body, {"used_a_day_percent": 9.5})
    now = stretch(FIRST, [low - 0.2 for low in LOWS if low], mornings=[morning])
    coming = forecast(FIRST + timedelta(days=7), 60, 6.6)
    of = replace(now, forecasts=[coming])
    found = look_back(of, stretch(FIRST - timedelta(days=7), LOWS), week(now).stretch, POND, LimitSettings(),
                      as_of=coming.at + MINUTE_MS)  # fmt: skip
    by_about = {each.about: each for each in sentences(found)}
    assert "may have to do with the buffer, which is being used up (9.5 % a day)" in by_about["dawn-low"].text
    assert by_about["buffer"].figures == {"used_a_day_percent": 9.5, "lead_days": 4}
    assert by_about["tonight"].text == "Tonight's low is expected at 6.60 (6.50 to 6.70), near 05:00."
    both = replace(of, forecasts=[coming, replace(coming, body={**coming.body, "probe": "deep"})])
    of_two = look_back(both, of, of, POND, LimitSettings(), as_of=coming.at + MINUTE_MS)
    assert "ph: Tonight's low" in told(of_two, "tonight")
    assert "deep: Tonight's low" in told(of_two, "tonight")
    steady = replace(now, mornings=[replace(morning, body={**body, "trend": "steady"})])
    assert "buffer" not in " ".join(each.text for each in sentences(week(steady)))


def test_a_reason_that_points_the_other_way_is_none() -> None:
    now = stretch(FIRST, [low + 0.2 for low in LOWS if low], celsius=20.0)
    text = told(week(now, stretch(FIRST - timedelta(days=7), LOWS, celsius=18.0)), "dawn-low")
    assert "higher than the week before" in text
    assert "may have" not in text


def test_nothing_is_compared_with_two_nights() -> None:
    before = stretch(FIRST - timedelta(days=7), [6.0, 6.0, None, None, None, None, None])
    assert "week before" not in told(week(stretch(FIRST, LOWS), before), "dawn-low")


def test_the_night_that_stands_out_names_what_was_done_before_it() -> None:
    act = Act("a", ms(FIRST + timedelta(days=2), 20), "water-change", {"share": 0.2})
    lows = [*LOWS[:3], 6.6, *LOWS[4:]]
    text = told(week(stretch(FIRST, lows, acts=[act])), "lowest")
    assert text.startswith("The lowest dawn was 6.60 on Thursday 11 June at 05:30, 0.40 below the mean of the others")
    assert "10 hours after an entry that may have to do with it (Water change: 20%)" in text
    assert "entry" not in told(week(stretch(FIRST, lows)), "lowest")


def test_a_record_with_holes_says_so() -> None:
    now = stretch(FIRST, LOWS)
    holed = [r for r in now.series[0].rollups if not ms(FIRST, 30) <= r.at < ms(FIRST, 41)]
    flagged = [r._replace(number=0, flagged=7) if ms(FIRST, 60) <= r.at < ms(FIRST, 62) else r for r in holed]
    found = week(replace(now, series=[now.series[0]._replace(rollups=flagged)]))
    assert [(gap.start, gap.end, gap.flagged) for gap in found.gaps] == [
        (ms(FIRST, 30), ms(FIRST, 41), 0), (ms(FIRST, 60), ms(FIRST, 62), 56),
    ]  # fmt: skip
    assert "the longest gap is 11 h from Tue 9 Jun 06:00" in told(found, "record")


def test_warmth_is_that_of_one_thermometer() -> None:
    """The first has no days before: what is said of warmth is all the second's."""
    now, before = stretch(FIRST, LOWS, celsius=25.0), stretch(FIRST - timedelta(days=7), LOWS, celsius=None)
    beside = [Series("pond", "temperature", quarters(of.first, 7, c)) for of, c in ((now, 18.0), (before, 15.0))]
    now, before = (replace(of, series=[*of.series, each]) for of, each in zip((now, before), beside, strict=True))
    (said,) = [each for each in sentences(week(now, before)) if each.about == "warmth"]
    assert said.figures == {"mean_c": pytest.approx(18.0), "warmer_c": pytest.approx(3.0)}


def test_days_without_ph_still_tell_the_rest() -> None:
    now = stretch(FIRST, LOWS)
    found = week(replace(now, days=[], series=now.series[1:], transitions=[moved(1, ms(FIRST, 3), "raised")]))
    said = {each.about: each.text for each in sentences(found)}
    assert said["record"] == "No pH was recorded on these days."
    assert said["alarms"].startswith("1 alarm raised")


def test_days_without_anything_say_that_alone() -> None:
    assert [each.text for each in sentences(week(Stretch(FIRST, FIRST, ms(FIRST), ms(FIRST) + DAY_MS)))] == [
        "Nothing was recorded on these days."
    ]


# ------------------------------------------------------------ nights


def forecast(on: date, after_sunset_min: int, low: float) -> Forecast:
    at = SUN.day(on - timedelta(days=1)).sunset + after_sunset_min * MINUTE_MS
    body = {"night": str(on), "probe": "ph", "low": low, "low_p10": low - 0.1, "low_p90": low + 0.1,
            "at": iso(ms(on, 5), ZONE), "last_lows": []}  # fmt: skip
    return Forecast("tonight", at, body)


def test_a_night_keeps_what_was_told_at_three_moments() -> None:
    given = [forecast(FIRST, minute, 7.0 + minute / 1000) for minute in (1, 21, 150, 170, 190, 400, 800)]
    (found,) = nights(given, [day(FIRST, 7.25)], SUN)
    assert found.at_sunset is not None
    assert found.later is not None
    assert found.last is not None
    assert (found.at_sunset.low, found.later.low, found.last.low) == (7.001, 7.17, 7.4)  # 800 min: the sun is up
    assert (found.came, found.within) == (7.25, True)
    assert found.error == pytest.approx(0.08)


@pytest.mark.parametrize(("low", "within"), [(7.06, False), (7.07, True), (7.27, True), (7.28, False), (None, None)])
def test_whether_the_bounds_held(low: float | None, within: bool | None) -> None:
    (found,) = nights([forecast(FIRST, 170, 7.17)], [day(FIRST, low)], SUN)
    assert found.within is within


def test_a_night_without_a_forecast_then_or_a_day_is_honest() -> None:
    (found,) = nights([forecast(FIRST, 300, 7.0)], [], SUN)
    assert (found.at_sunset, found.later, found.came, found.within, found.error) == (None, None, None, None, None)


# ------------------------------------------------------------ alarms


def moved(number: int, at: int, change: Any, priority: Any = "medium", actor: str = "") -> Transition:
    return Transition(number, at, at - 10, "ph-low", change, priority, "ph", 6.4, f"{change} text", actor)


def test_the_handling_of_alarms() -> None:
    rows = [
        moved(1, 50, "returned", "high"),  # raised before these days
        moved(2, 100, "raised"), moved(2, 200, "escalated", "high"),
        moved(2, 100 + 4 * MINUTE_MS, "acknowledged", actor="ada"),
        moved(2, 900_000, "returned"), moved(3, 950_000, "raised", "low"), moved(3, 960_000, "returned", "low"),
        moved(4, 970_000, "raised", "high"),
    ]  # fmt: skip
    found = {each.id: each for each in episodes(rows)}
    assert (found[1].raised_at, found[1].since, found[1].ended_at) == (None, 40, 50)
    assert (found[2].priority, found[2].answered_after, found[2].acknowledged_by) == ("high", 240_000, "ada")
    assert found[2].text == "escalated text"
    assert found[4].ended_at is None
    counted = measure(rows, 60, 1_000_000)
    assert (len(counted.raised), counted.by_priority) == (3, {"low": 1, "medium": 0, "high": 2})
    assert counted.times_to_acknowledge == [240_000]


def test_an_alarm_that_comes_again_is_another_episode_and_the_first_has_ended() -> None:
    rows = [moved(1, 100, "raised"), moved(1, 200, "returned"), moved(2, 300, "raised")]
    assert [each.ended_at for each in episodes(rows)] == [200, None]


def test_what_ended_behind_its_shelf_has_ended() -> None:
    """So the desk tells it, see `Desk.unshelve`: the shelf's end is told after that of the alarm."""
    rows = [moved(1, at, change) for at, change in ((1, "raised"), (2, "shelved"), (3, "returned"), (9, "unshelved"))]
    assert episodes(rows)[0].ended_at == 3


def test_a_probe_that_could_not_be_believed_is_named_with_its_days() -> None:
    def suspect(number: int, hours: float, change: Any) -> Transition:
        at = ms(FIRST, hours)
        return Transition(number, at, at, "probe-suspect", change, "medium", "ph", 7.0, "frozen: it stands still")

    rows = [suspect(1, 20, "raised"), suspect(1, 26, "returned"), suspect(2, 100, "raised")]
    found = week(replace(stretch(FIRST, LOWS), transitions=rows))
    assert told(found, "doubted") == (
        f"The probe was doubted 2 times, the last time from {moment(ms(FIRST, 100), found.zone)} on: frozen: it stands "
        "still. What it showed then may be its own and not the water's."
    )
    days = [str(on) for on in found.stretch.dates]
    assert found.doubted == {(on, "ph") for on in (*days[:2], *days[4:])}
    lines = day_table(found.stretch.days, found.zone, doubted=found.doubted).splitlines()[1:]
    assert [line.endswith(" doubted") for line in lines] == [(on, "ph") in found.doubted for on in days[: len(lines)]]
    assert days_table(found).count(", doubted</span>") == len(found.doubted)
    assert week(stretch(FIRST, LOWS)).doubted == set()


def test_an_alarm_that_stood_from_before_is_shown_and_not_counted_as_raised() -> None:
    old = moved(1, ms(FIRST, -300), "raised")
    found = week(replace(stretch(FIRST, LOWS), standing=[old]))
    assert [(each.id, each.raised_at, each.ended_at) for each in found.episodes] == [(1, old.at, None)]
    assert [each.id for each in found.performance.standing] == [1]
    assert told(found, "alarms") == "No alarm was raised (0 in the week before); 1 stood from before."


def test_the_rain_of_a_gauge_stands_by_day_beside_the_days_before() -> None:
    gauged = [
        (ms(FIRST, 20), ms(FIRST, 21), 22.0),
        (ms(FIRST + timedelta(days=1), 1), ms(FIRST + timedelta(days=1), 2), 9.0),
    ]
    now, before = stretch(FIRST, LOWS, gauged=gauged), stretch(FIRST - timedelta(days=7), LOWS)
    found = look_back(
        now, before, replace(before, days=(), series=()),
        POND.model_copy(update={"volume_litres": 14000, "surface_m2": 12}), LimitSettings(), as_of=now.end,
    )  # fmt: skip
    assert found.rain is not None
    assert found.rain.by_day[:3] == (("2026-06-08", 22.0), ("2026-06-09", 9.0), ("2026-06-10", 0))
    assert (found.rain.mm, found.rain.before, found.rain.year_ago) == (31.0, 0, None)
    assert told(found, "rain") == (
        "31 mm of rain fell (0 in the week before), most of it on Monday 8 June; it took about 3% of the buffer with "
        "it."
    )


def test_a_night_that_stands_out_names_the_rain_before_it() -> None:
    lows = [7.0, 7.0, 6.6, 7.0, 7.0, 7.0, 7.0]
    night = FIRST + timedelta(days=2)
    found = week(stretch(FIRST, lows, gauged=[(ms(night, 1), ms(night, 3), 48.0)]))
    assert "0.40 below the mean of the others, after 48 mm of rain within a day" in told(found, "lowest")


def test_a_gauge_that_stays_dry_says_so_and_a_pond_without_one_says_nothing() -> None:
    dry = stretch(FIRST, LOWS)
    gauge = replace(dry, series=[*dry.series, Series("rain", "rain", quarters(FIRST, len(LOWS), 0.0))])
    assert told(week(gauge), "rain") == "No rain fell."
    assert [each.now.probe for each in week(gauge).others] == ["water"]
    assert week(dry).rain is None


def test_a_gauge_that_was_not_heard_does_not_say_that_it_was_dry() -> None:
    dry = stretch(FIRST, LOWS)
    silent = replace(dry, series=[*dry.series, Series("rain", "rain", [])])
    assert week(silent).rain is None
    half = replace(dry, series=[*dry.series, Series("rain", "rain", quarters(FIRST, len(LOWS), 0.0)[::2])])
    assert told(week(half), "rain") == "No rain is known of; the gauge was heard 50% of the time."
