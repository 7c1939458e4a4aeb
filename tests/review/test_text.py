"""The review in words: one row a day, one line an alarm, and nothing invented where there is no figure."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.event import Day, Transition
from dawnline.review.text import ASCII_BLOCKS, BLOCKS, alarm_list, alarm_text, day_table, line

ZONE = ZoneInfo("Europe/Berlin")
DAWN, DUSK = 1_780_455_000_000, 1_780_506_000_000  # Wed 3 June 2026, 04:50 and 19:00 in Berlin


def day(probe: str = "ph", *, partial: bool = False) -> Day:
    return Day("2026-06-03", probe, 7.021, DAWN, 7.648, DUSK, 0.627, 7.333, 95.0, 0.0, 0.998, partial)


EMPTY = Day("2026-06-04", "ph", None, None, None, None, None, None, 0.0, 0.0, 0.0, False)


def test_a_day_in_a_row() -> None:
    head, row = day_table([day()], ZONE).splitlines()
    assert head.split() == ["day", "dawn", "low", "dusk", "high", "swing", "mean", "below", "above", "seen"]
    assert row.split() == [
        "Wed", "2026-06-03", "7.02", "at", "04:50", "7.65", "at", "19:00", "0.63", "7.33", "1h", "35m", "-", "100%",
    ]  # fmt: skip


def test_the_columns_stand_under_their_names() -> None:
    head, *rows = day_table([day(), EMPTY], ZONE).splitlines()
    for row in rows:
        assert row.index("%") + 1 == head.index("seen") + 4


def test_a_figure_that_cannot_be_had_is_a_dash() -> None:
    row = day_table([EMPTY], ZONE).splitlines()[1]
    assert row.split() == ["Thu", "2026-06-04", "-", "-", "-", "-", "-", "-", "0%"]


def test_the_running_day_says_so_and_several_probes_are_named() -> None:
    table = day_table([day(partial=True), day("deep")], ZONE).splitlines()
    assert "probe" in table[0]
    assert table[1].endswith("(so far)")
    assert not table[2].endswith("(so far)")
    assert " ph " in table[1]
    assert " deep " in table[2]


def test_two_probes_whose_names_begin_alike_are_told_apart() -> None:
    head, *rows = day_table([day("pond-west"), day("pond-east-by-the-outlet")], ZONE).splitlines()
    assert [row.split()[2] for row in rows] == ["pond-west", "pond-east-by-the-outlet"]
    assert {row.index("%") + 1 for row in rows} == {head.index("seen") + 4}


def test_no_days_and_no_alarms_are_said() -> None:
    assert day_table([], ZONE) == "no days yet"
    assert alarm_list([], ZONE) == "no alarms"


def test_a_drawn_line_stands_behind_its_day() -> None:
    head, first, second = day_table([day(), EMPTY], ZONE, {("2026-06-03", "ph"): "▁▂█"}).splitlines()
    assert head.endswith("midnight to midnight")
    assert first.endswith("▁▂█")
    assert second.endswith("0%")


@pytest.mark.parametrize(("probe", "place"), [("ph", " [ph]"), (None, "")])
def test_an_alarm_in_a_line(probe: str | None, place: str) -> None:
    told = Transition(3, DAWN, DAWN, "ph-low", "acknowledged", "high", probe, 6.3, "pH 6.30, below 6.5", "ada")
    assert alarm_text(told, ZONE) == (
        f"Wed 2026-06-03 04:50  !!ph-low acknowledged by ada{place}: pH 6.30, below 6.5 (alarm 3, high)"
    )
    assert "!!pH is low, acknowledged by ada" in alarm_text(told, ZONE, {"ph-low": "pH is low"})


@given(
    st.lists(st.one_of(st.none(), st.floats(-5, 20)), max_size=60),
    st.floats(2, 12),
    st.floats(2, 12),
    st.sampled_from([BLOCKS, ASCII_BLOCKS]),
)
def test_a_line_has_a_character_a_value(values: list[float | None], one: float, other: float, blocks: str) -> None:
    drawn = line(values, min(one, other), max(one, other), blocks)
    assert len(drawn) == len(values)
    assert set(drawn) <= {*blocks, " "}
    assert [c == " " for c in drawn] == [v is None for v in values]
    known = [(v, blocks.index(c)) for v, c in zip(values, drawn, strict=True) if v is not None]
    assert [place for _, place in sorted(known)] == sorted(place for _, place in known)
