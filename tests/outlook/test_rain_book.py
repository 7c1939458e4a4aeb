"""Rain by gauge and by hand: what is counted, and that nothing is counted twice."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Rainfall
from dawnline.logbook.acts import read
from dawnline.outlook.rain_book import RainBook, counted, fallen_mm

T0 = 1_780_000_000_000


def hours(*amounts: float, start: int = T0) -> list[tuple[int, int, float]]:
    return [(start + n * HOUR_MS, start + (n + 1) * HOUR_MS, mm) for n, mm in enumerate(amounts) if mm]


def total(gauged: list[tuple[int, int, float]], by_hand: list[tuple[int, float]]) -> float:
    return sum(each.mm for each in counted(gauged, by_hand))


def test_an_entry_beside_a_gauge_that_works_changes_nothing() -> None:
    assert total(hours(4, 8, 0, 2), [(T0 + 8 * HOUR_MS, 14.0)]) == 14.0
    assert total(hours(4, 8, 0, 2), [(T0 + 8 * HOUR_MS, 9.0)]) == 14.0  # less by hand takes nothing away


def test_a_gauge_that_is_stopped_up_is_made_good_by_hand() -> None:
    assert total(hours(4, 1), [(T0 + 8 * HOUR_MS, 30.0)]) == 30.0


def test_without_a_gauge_entries_are_what_they_say() -> None:
    assert total([], [(T0, 5.0), (T0 + 12 * HOUR_MS, 7.0), (T0 + 40 * HOUR_MS, 1.0)]) == 13.0


def test_an_entry_speaks_of_the_time_since_the_one_before_it() -> None:
    morning, evening = T0 + 3 * HOUR_MS, T0 + 9 * HOUR_MS
    assert total(hours(5), [(morning, 5.0), (evening, 7.0)]) == 12.0


def test_a_total_heard_late_is_not_counted_on_top_of_the_entry_that_filled_its_silence() -> None:
    silence = [(T0, T0 + 8 * HOUR_MS, 32.0)]
    assert total(silence, [(T0 + 5 * HOUR_MS, 30.0)]) == 32.0
    assert total(silence, [(T0 + 5 * HOUR_MS, 40.0)]) == 40.0


rain = st.lists(st.tuples(st.integers(0, 200), st.floats(0.01, 60.0)), max_size=30)


@given(rain, rain)
def test_what_counts_lies_between_the_larger_of_both_and_their_sum(
    gauge: list[tuple[int, float]], by_hand: list[tuple[int, float]]
) -> None:
    gauged = [(T0 + n * HOUR_MS, T0 + (n + 1) * HOUR_MS, mm) for n, mm in dict(gauge).items()]
    hand = [(T0 + n * HOUR_MS, mm) for n, mm in dict(by_hand).items()]
    found = total(gauged, hand)
    assert found <= sum(row[2] for row in gauged) + sum(mm for _, mm in hand) + 1e-6
    assert found >= max([0.0, *(mm for _, mm in hand)]) - 0.01
    assert [each.at for each in counted(gauged, hand)] == sorted(each.at for each in counted(gauged, hand))


def act(name: str, at: int, kind: str, body: dict[str, object]) -> Act:
    return Act(name, at, kind, body)


def enter(book: RainBook, made: Act) -> None:
    book.enter(made, read(made.kind, made.body))


def test_the_book_takes_corrections_and_forgets_after_weeks() -> None:
    book = RainBook()
    enter(book, act("a", T0, "rain", {"mm": 200}))
    enter(book, act("b", T0, "correct", {"entry": "a", "kind": "rain", "at": T0, "body": {"mm": 20}}))
    assert [(each.at, each.mm) for each in book.counted()] == [(T0, 20.0)]
    enter(book, act("c", T0, "withdraw", {"entry": "a", "at": T0}))
    assert book.counted() == []
    for day in range(60):
        book.fell([Rainfall("rain", T0 + day * DAY_MS, T0 + day * DAY_MS + 900_000, 1.0)])
    assert len(book.gauged) == 45


def test_the_book_keeps_hours_and_takes_what_is_heard_late() -> None:
    book, hour = RainBook(), T0 - T0 % HOUR_MS
    quarters = [Rainfall("rain", hour + n * 900_000, hour + (n + 1) * 900_000 - MINUTE_MS, 0.5) for n in range(8)]
    book.fell(quarters[:6])
    book.fell([Rainfall("rain", hour - DAY_MS, hour - DAY_MS + 900_000, 7.0)])
    book.fell(quarters[6:])
    assert [mm for _, _, mm in book.gauged] == [7.0, 2.0, 2.0]
    again = RainBook()
    again.restore(json.loads(json.dumps(book.save())))
    assert again.counted() == book.counted()
    assert fallen_mm(book.counted(), hour, hour + HOUR_MS) == pytest.approx(2.0)
