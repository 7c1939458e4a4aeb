"""The logbook as a table, out and in again."""

from __future__ import annotations

import csv
import io
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.errors import SettingsError
from dawnline.event import Act
from dawnline.logbook import table
from dawnline.logbook.acts import POND_KINDS
from dawnline.logbook.ledger import ledger
from dawnline.logbook.settle import Habits
from dawnline.logbook.table import Problem, Row

HABITS = Habits(ZoneInfo("Europe/Berlin"))
AT = 1_780_480_800_000


def read(text: str, habits: Habits = HABITS) -> list[Row | Problem]:
    return list(table.read(io.StringIO(text, newline=""), habits))


def written(acts: list[Act]) -> str:
    into = io.StringIO(newline="")
    table.write(ledger(acts), into, HABITS)
    return into.getvalue()


def marks(rows: list[Row | Problem]) -> list[str]:
    assert all(isinstance(row, Row) for row in rows), rows
    return [table.same(row.kind, row.body, table.when(row)) for row in rows if isinstance(row, Row)]


NUMBERS = st.floats(min_value=0.001, max_value=5, allow_nan=False)
TEXTS = st.text(min_size=1, max_size=40).filter(lambda text: text.strip() != "" and "\x00" not in text)
BODIES: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "hand-test": st.fixed_dictionaries({"kh_dkh": NUMBERS, "kh_step_dkh": NUMBERS}, optional={"note": TEXTS}),
    "water-change": st.fixed_dictionaries({"litres": NUMBERS}, optional={"source_kh_dkh": NUMBERS}),
    "dose": st.fixed_dictionaries({"what": TEXTS}, optional={"grams": NUMBERS, "photo": TEXTS}),
    "fish": st.fixed_dictionaries({"number": st.integers(0, 99)}, optional={"length_cm": NUMBERS}),
    "note": st.fixed_dictionaries({"note": TEXTS}),
    "aerated-cup": st.fixed_dictionaries({"before": st.floats(6, 7), "after": st.floats(7, 8), "for": st.just("20m")}),
}
ACTS = st.sampled_from(sorted(BODIES)).flatmap(
    lambda kind: st.builds(
        lambda at, body, name: Act(name, at, kind, body, "ada"),
        st.integers(AT, AT + 10**9).map(lambda at: at - at % 1000),
        BODIES[kind],
        st.uuids().map(str),
    )
)


@given(st.lists(ACTS, max_size=8, unique_by=lambda act: act.id))
def test_what_is_written_reads_back(acts: list[Act]) -> None:
    rows = read(written(acts))
    assert marks(rows) == [table.same(each.kind, each.body, each.at) for each in ledger(acts)]


@given(TEXTS)
def test_no_text_is_written_as_a_formula(text: str) -> None:
    cells = next(
        row for n, row in enumerate(csv.reader(io.StringIO(written([Act("a", AT, "note", {"note": text})])))) if n
    )
    assert not cells[3].startswith(("=", "+", "-", "@", "\t", "\r"))


def test_every_kind_has_its_columns() -> None:
    assert {key for model in POND_KINDS.values() for key in model.model_fields if key != "for_"} <= set(
        table._columns()
    )


def test_a_table_as_a_keeper_writes_it() -> None:
    rows = read(
        "time,kind,kh,ph,amount,what,note\n"
        '2026-06-03T08:00,test,6 drops,"7,4",,,after rain\n'
        "2026-06-03 09:00+02:00,change,,,15%,,\n"
        "\n"
        "2026-06-04T08:00,dose,,,1/4 cup,baking soda,\n"
    )
    assert [(row.number, row.kind, row.body) for row in rows if isinstance(row, Row)] == [
        (2, "hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 1.0, "ph": 7.4, "note": "after rain",
                          "when": "2026-06-03T08:00:00+02:00"}),
        (3, "water-change", {"share": 0.15, "when": "2026-06-03T09:00:00+02:00"}),
        (5, "dose", {"millilitres": 59.147059125, "what": "baking soda", "when": "2026-06-04T08:00:00+02:00"}),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2026-06-03T08:00,test,6,", "row 2: hand-test: kh: found '6' without a unit: write \"6 drops\""),
        ("soon,test,6 drops,", "such as 08:00, yesterday 18:30 or 2026-06-03T08:00"),
        (",test,6 drops,", "found no time"),
        ("2026-06-03T08:00,,6 drops,", "found no kind"),
        ("2026-06-03T08:00,tset,6 drops,", "did you mean 'test'"),
        ("2026-06-03T08:00,calibrated,,", "not taken from a table"),
        ("2026-06-03T08:00,cleaning,,", "'probe' is missing"),
        ("2026-06-03T08:00,shelve,,", "unknown kind"),
        ("2026-06-03T08:00,rain,6 drops,", "unknown key 'kh'"),
        ("2026-06-03T08:00,test,6 drops,a,b,c", "put texts with commas in quotes"),
        ("2026-03-29T02:30,test,6 drops,", "change of the clock"),
        ('2026-06-03T08:00,test,"6 drops"x,', "quotes closed"),
        ("2026-06-03T08:00,note,," + "x" * 5000, "shorten it"),
        ("2026-06-03T08:00,note,," + "x" * 3000, "note"),
    ],
)
def test_a_bad_row_is_named_with_its_remedy_and_costs_only_itself(row: str, says: str) -> None:
    bad, good = read(f"time,kind,kh,note\n{row}\n2026-06-05T08:00,note,,a heron\n")
    assert isinstance(bad, Problem)
    assert bad.number == 2
    assert says in bad.text
    assert len(bad.text) < 500
    assert isinstance(good, Row)


@pytest.mark.parametrize("text", ["", "kind,kh\n", "time,kh\n", "time,kind,kh,kh\n", '"time\n'])
def test_a_header_that_cannot_be_used_is_refused(text: str) -> None:
    with pytest.raises(SettingsError, match="row 1"):
        read(text)


def test_who_wrote_it_stays_and_withdrawn_entries_are_left_out() -> None:
    acts = [Act("a", AT, "rain", {"mm": 3}, "ada"), Act("b", AT, "rain", {"mm": 4}, "bob"),
            Act("c", AT, "withdraw", {"entry": "b", "at": AT}, "bob")]  # fmt: skip
    (row,) = read(written(acts))
    assert isinstance(row, Row)
    assert (row.body["mm"], row.by) == (3.0, "ada")


@given(st.text(max_size=200))
def test_any_text_is_rows_or_is_refused(text: str) -> None:
    try:
        rows = read("time,kind,note,kh\n" + text)
    except SettingsError:
        return
    assert all(isinstance(row, Row | Problem) for row in rows)
