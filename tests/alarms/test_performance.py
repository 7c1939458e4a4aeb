"""Figures of a journal that can be counted by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from dawnline.alarms.performance import Performance, measure
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Change, Priority, Transition
from dawnline.review.alarms import performance_line, performance_sentence, performance_text

WEEK = 7 * DAY_MS
UTC = ZoneInfo("UTC")


def row(at: int, number: int, change: Change, alarm: str = "ph-low", priority: Priority = "high") -> Transition:
    return Transition(number, at, at, alarm, change, priority, "ph", None, "text", "")


def of(*rows: Transition, start: int = 0, end: int = WEEK) -> Performance:
    return measure(sorted(rows, key=lambda each: each.at), start, end)


def guide(found: Performance, measure: str) -> Any:
    return [each for each in found.guides() if each.measure == measure]


def test_nothing_at_all() -> None:
    found = of()
    assert (list(found.raised), found.by_alarm, found.median_to_acknowledge) == ([], {}, None)
    assert all(each.well for each in found.guides())
    assert "no alarm was raised" in performance_text(found, UTC)
    assert performance_line(found, UTC)["acknowledged_share"] is None


def test_counts_by_kind_and_priority() -> None:
    found = of(
        row(HOUR_MS, 1, "raised"), row(2 * HOUR_MS, 2, "raised", "no-data", "medium"), row(3 * HOUR_MS, 1, "returned"),
        row(DAY_MS, 3, "raised"), row(2 * DAY_MS, 4, "raised", "ph-high", "low"),
    )  # fmt: skip
    assert found.by_alarm == {"ph-low": 2, "no-data": 1, "ph-high": 1}
    assert found.by_priority == {"low": 1, "medium": 1, "high": 2}
    assert found.weeks == 1
    assert performance_line(found, UTC)["a_week"] == 4


def test_an_escalation_is_no_alarm_of_its_own_and_counts_as_what_it_became() -> None:
    found = of(
        row(HOUR_MS, 1, "raised", "ph-high", "low"),
        row(2 * HOUR_MS, 1, "acknowledged", "ph-high", "low"),
        row(3 * HOUR_MS, 1, "escalated", "ph-high", "medium"),
        row(4 * HOUR_MS, 1, "acknowledged", "ph-high", "medium"),
    )
    assert found.by_priority == {"low": 0, "medium": 1, "high": 0}
    assert (found.acknowledged, found.times_to_acknowledge) == (1, [HOUR_MS])


def test_how_soon_they_were_acknowledged() -> None:
    rows = [row(n * HOUR_MS, n, "raised") for n in range(1, 5)]
    rows += [row(n * HOUR_MS + n * n * MINUTE_MS, n, "acknowledged") for n in range(1, 4)]
    found = of(*rows)
    assert (found.acknowledged, found.median_to_acknowledge) == (3, 4 * MINUTE_MS)
    assert "acknowledged: 3 of 4, half of them within 4 min, the slowest after 9 min" in performance_text(found, UTC)


def test_one_that_was_acknowledged_has_no_half() -> None:
    found = of(row(HOUR_MS, 1, "raised"), row(2 * HOUR_MS, 1, "acknowledged"))
    assert "acknowledged: 1 of 1, after 1 h\n" in performance_text(found, UTC)


def test_three_times_within_six_hours_chatters_and_over_more_it_does_not() -> None:
    assert of(*(row(n * 2 * HOUR_MS, n + 1, "raised") for n in range(3))).chattering == {("ph-low", "ph"): 3}
    assert of(*(row(n * 3 * HOUR_MS, n + 1, "raised") for n in range(9))).chattering == {}
    assert not guide(of(*(row(n, n + 1, "raised") for n in range(4))), "chattering alarms")[0].well


def test_what_stands_for_over_a_day_is_stale_even_where_it_began_before() -> None:
    rows = [row(0, 1, "raised"), row(DAY_MS + 1, 1, "returned"), row(2 * DAY_MS, 2, "raised"), row(0, 3, "raised")]
    rows += [row(DAY_MS, 3, "returned")]
    assert [each.id for each in of(*rows).standing] == [1, 2]
    assert [each.id for each in of(*rows, start=3 * DAY_MS).standing] == [2]
    assert "alarm 2, ph-low [ph], since Sat 1970-01-03 00:00, still there" in performance_text(of(*rows), UTC)


def test_the_most_in_ten_minutes() -> None:
    flood = [row(DAY_MS + n * MINUTE_MS // 2, n + 1, "raised") for n in range(12)]
    found = of(*flood, row(0, 99, "raised"))
    assert found.most_in_ten_minutes == 12
    assert not guide(found, "most in ten minutes")[0].well


def test_only_what_began_in_the_time_counts_as_raised() -> None:
    rows = [row(0, 1, "raised"), row(DAY_MS, 2, "raised"), row(DAY_MS + 5, 2, "acknowledged"), row(9, 7, "returned")]
    found = of(*rows, start=1, end=DAY_MS + 5)
    assert [each.id for each in found.raised] == [2]
    assert found.acknowledged == 0  # it was only after the end


def test_the_week_in_a_sentence() -> None:
    assert performance_sentence(of()) == ""
    assert performance_sentence(of(row(0, 1, "raised"), row(9, 1, "returned"))).startswith("No alarm chattered")
    rows = [row(HOUR_MS * n, n + 1, "raised") for n in range(3)] + [row(HOUR_MS, 9, "raised", "no-data")]
    rows += [row(HOUR_MS * n + 9, n + 1, "returned") for n in range(3)]
    said = performance_sentence(of(*rows))
    assert said.endswith("ph-low came 3 times within 6 h; no-data stood for over a day.")
    named = performance_sentence(of(*rows), {"ph-low": "pH is low", "no-data": "A probe is silent"})
    assert named.endswith('"pH is low" came 3 times within 6 h; "A probe is silent" stood for over a day.')


def test_the_same_alarm_of_two_probes_names_them() -> None:
    rows = [row(HOUR_MS, 1, "raised", "ph-low"), replace(row(HOUR_MS, 2, "raised", "ph-low"), probe="deep")]
    said = performance_sentence(of(*rows, row(HOUR_MS, 3, "raised", "no-data")))
    assert said.endswith("ph-low [ph], ph-low [deep] and no-data stood for over a day.")
