"""A rain gauge in the fold: rain by the quarter of an hour, and the buffer line that knows of it."""

from __future__ import annotations

import json
from datetime import datetime
from math import exp, log10, prod
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Effect, Event, Forecast, Rainfall, Transition, Verdict
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import MEASURED as POND
from ..pond import fold

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime(2026, 6, 1, tzinfo=ZONE).timestamp() * 1000)
STEP = 10 * MINUTE_MS
ROOF = POND.model_copy(update={"catchment_m2": 50.0, "catchment_runoff": 0.9})


def pipeline(pond: PondSettings = POND) -> Pipeline:
    return Pipeline(shipped(), pond, [("ph", "ph", None, None), ("rain", "rain", None, None)])


def rain(effects: list[Effect]) -> list[Rainfall]:
    return [effect for effect in effects if isinstance(effect, Rainfall)]


def totals(values: list[float], start: int = BEGIN, step: int = MINUTE_MS) -> list[Event]:
    return [Sample("rain", start + n * step, value, start + n * step) for n, value in enumerate(values)]


def test_rain_is_said_once_by_the_quarter_of_an_hour() -> None:
    pipe = pipeline()
    said = rain(fold(pipe, totals([5 + 0.2 * n for n in range(46)])))
    assert [round((each.end - BEGIN) / MINUTE_MS) for each in said] == [14, 29, 44]
    assert sum(each.mm for each in said) == pytest.approx(44 * 0.2)
    assert rain(pipe.finish())[0].mm == pytest.approx(0.2)


def test_a_pond_without_rain_says_nothing() -> None:
    assert rain(fold(pipeline(), totals([7.2] * 3000))) == []


def test_a_fold_in_pieces_says_the_same() -> None:
    events = totals([0.2 * (n // 3) for n in range(200)])
    whole = rain(fold(pipeline(), events))
    first = pipeline()
    pieces = rain(fold(first, events[:77]))
    second = pipeline()
    second.restore(json.loads(json.dumps(first.save())))
    assert pieces + rain(fold(second, events[77:])) == whole


def ph(at: int, left: float) -> float:
    hour = ((at - BEGIN) / HOUR_MS - 5) % 24
    return 7.5 + 0.6 * (hour if hour <= 12 else 24 - hour) / 12 + log10(left)


def storm(pond: PondSettings, *, gauge: bool, by_hand: float = 0.0) -> tuple[Pipeline, list[Effect]]:
    """Ten steady days; on the evening of the sixth 60 mm fall, and the pH is as low as the dilution makes it."""
    at, mm = BEGIN + 5 * DAY_MS + 18 * HOUR_MS, 60.0
    share = exp(-mm / (pond.rain_depth_mm or 1167.0))
    events: list[Event] = []
    for now in range(BEGIN, BEGIN + 11 * DAY_MS, STEP):
        events.append(Sample("ph", now, round(ph(now, share if now >= at else 1.0), 3), now))
        if gauge:
            events.append(Sample("rain", now, round(min(max((now - at) / HOUR_MS, 0.0), 2.0) * mm / 2.0, 1), now))
    if by_hand:
        events.append(Act("r", at + 12 * HOUR_MS, "rain", {"mm": by_hand}))
    pipe = pipeline(pond)
    return pipe, fold(pipe, sorted(events, key=lambda event: event.at))


def entered(pipe: Pipeline) -> list[tuple[str, float]]:
    return [(row[1], round(row[2], 4)) for row in pipe.buffer.lines["ph"].diary.entries]


def last(effects: list[Effect]) -> Forecast:
    return [each for each in effects if isinstance(each, Forecast) and each.about == "buffer"][-1]


@pytest.mark.parametrize("pond", [POND, ROOF], ids=["pond", "roof"])
def test_the_buffer_line_knows_of_the_rain(pond: PondSettings) -> None:
    pipe, effects = storm(pond, gauge=True)
    assert sum(each.mm for each in rain(effects)) == pytest.approx(60.0)
    assert entered(pipe) == [("rained", round(exp(-60.0 / (pond.rain_depth_mm or 1.0)), 4))]
    assert last(effects).body["trend"] in ("steady", "unclear")
    assert last(effects).body["reaches_low_on"] is None


def test_gauge_and_hand_are_the_same_to_the_line_and_never_add_up() -> None:
    by_gauge, by_hand, both = storm(POND, gauge=True), storm(POND, gauge=False, by_hand=60), storm(
        POND, gauge=True, by_hand=60)  # fmt: skip
    assert entered(by_gauge[0]) == entered(by_hand[0]) == entered(both[0])
    more = entered(storm(POND, gauge=True, by_hand=80)[0])
    assert prod(share for _, share in more) == pytest.approx(exp(-80 * 12 / 14000), abs=2e-4)


def test_without_surface_the_level_may_have_moved() -> None:
    pipe, _ = storm(POND.model_copy(update={"surface_m2": None}), gauge=True)
    assert entered(pipe) == [("stepped", 0.05)]


def test_the_answer_says_which_of_gauge_and_hand_counts() -> None:
    pipe = pipeline()
    fold(pipe, totals([10 + 0.2 * n for n in range(61)]))

    def said(mm: float, name: str) -> str:
        effects = pipe.step(Act(name, BEGIN + 2 * HOUR_MS, "rain", {"mm": mm}))
        return next(each.text for each in effects if isinstance(each, Verdict))

    assert said(11.0, "a").endswith(
        "The gauge had 12.0 mm in the 24 h before: that counts, and this entry stands beside it."
    )
    pipe.step(Act("w", BEGIN + 2 * HOUR_MS, "withdraw", {"entry": "a", "at": BEGIN + 2 * HOUR_MS}))
    assert said(20.0, "b").endswith("The gauge had 12.0 mm in the 24 h before: the 8.0 mm beyond count on top.")
    late = pipe.step(Act("c", BEGIN + 2 * DAY_MS, "rain", {"mm": 3.0}))
    assert next(each.text for each in late if isinstance(each, Verdict)).endswith(
        "0.0 mm in the 24 h before: this entry counts."
    )


def test_a_low_ph_after_a_cloudburst_names_it() -> None:
    pipe = pipeline()
    events: list[Event] = totals([min(0.5 * n, 40.0) for n in range(120)])
    events += [Sample("ph", BEGIN + n * MINUTE_MS, 6.3, BEGIN + n * MINUTE_MS) for n in range(60, 120)]
    told = [each for each in fold(pipe, sorted(events, key=lambda event: event.at)) if isinstance(each, Transition)]
    (low,) = [each for each in told if each.alarm == "ph-low"]
    assert low.text.endswith("mm of rain in the last 12 h")


def test_a_running_total_taken_for_amounts_is_named_and_not_counted_for_long() -> None:
    pipe = Pipeline(shipped(), POND, [("rain", "rain", None, None)], gauges={"rain": ("amount", None)})
    effects = fold(pipe, totals([12.4] * 600))
    (suspect,) = [each for each in effects if isinstance(each, Transition) and each.change == "raised"]
    assert (suspect.alarm, suspect.priority) == ("probe-suspect", "low")
    assert "is `gauge` right" in suspect.text
    assert sum(each.mm for each in rain(effects)) < 400
