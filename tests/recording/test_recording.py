from __future__ import annotations

import itertools
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.errors import SettingsError
from dawnline.reading import Sample
from dawnline.recording import RowProblem, read, write

ZONE = ZoneInfo("Europe/Berlin")
PROBES = ["ph", "water"]


def parsed(text: str) -> tuple[list[Sample], list[RowProblem]]:
    items = list(read(text.splitlines(keepends=True), PROBES, ZONE))
    return [i for i in items if isinstance(i, Sample)], [i for i in items if isinstance(i, RowProblem)]


def at(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def test_rows_become_samples_in_order() -> None:
    samples, problems = parsed("time,ph,water\n2026-06-03T04:30:00+02:00,7.1,18.4\n2026-06-03T02:31:00Z,,18.5\n")
    assert samples == [
        Sample("ph", at("2026-06-03T04:30+02:00"), 7.1, at("2026-06-03T04:30+02:00")),
        Sample("water", at("2026-06-03T04:30+02:00"), 18.4, at("2026-06-03T04:30+02:00")),
        Sample("water", at("2026-06-03T04:31+02:00"), 18.5, at("2026-06-03T04:31+02:00")),
    ]
    assert problems == []


def test_a_column_that_names_no_probe_is_said_once() -> None:
    samples, problems = parsed("time,ph,note,x\n2026-06-03T04:30Z,7.1,herons,1\n2026-06-03T04:31Z,7.1,,2\n")
    assert len(samples) == 2
    assert [(p.row, p.harmless) for p in problems] == [(1, True)]
    assert "'note', 'x'" in problems[0].text


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("yesterday,7.1,18", "time: found 'yesterday'"),
        ("2026-06-03T04:30Z,seven,18", "ph: found 'seven', expected a number"),
        ("2026-06-03T04:30Z,nan,18", "ph: found 'nan'"),
        ("2026-06-03T04:30Z,inf,18", "ph: found 'inf'"),
        ("2026-06-03T04:30Z,7_1,18", "ph: found '7_1'"),
        ('2026-06-03T04:30Z,"7,1",18', "ph: found '7,1'"),
        ("2026-06-03T04:30Z,7.1", "found 2 cells, expected 3"),
        ("2026-06-03T04:30Z,7.1,18,19", "found 4 cells, expected 3"),
        ("2026-03-29T02:30:00,7.1,18", "does not exist"),
        ("2026-10-25T02:30:00,7.1,18", "comes twice"),
        ("0001-01-01T00:00:00+23:59,7.1,18", "out of range"),
        ("0001-01-01T00:00:00,7.1,18", "out of range"),
        ("9999-12-31T23:59:59,7.1,18", "out of range"),
    ],
)
def test_what_cannot_be_used_is_said_with_its_row_and_loses_nothing_else(row: str, says: str) -> None:
    samples, problems = parsed(
        f"time,ph,water\n2026-01-01T00:00Z,7.0,17\n{row}\n2026-11-11T00:00Z,7.2,19\n2026-11-11T00:01Z,7.2,19\n"
    )
    assert [p.row for p in problems] == [3]
    assert says in problems[0].text
    assert {(s.probe, s.value) for s in samples} >= {
        ("ph", 7.0),
        ("water", 17.0),
        ("ph", 7.2),
        ("water", 19.0),
    }


def test_local_times_of_the_doubled_hour_are_settled_by_the_order_of_rows() -> None:
    times = ["01:50", "02:00", "02:30", "02:50", "02:00", "02:30", "02:50", "03:00"]
    samples, problems = parsed("time,ph\n" + "".join(f"2026-10-25T{t}:00,7.0\n" for t in times))
    assert problems == []
    gaps = [b.at - a.at for a, b in itertools.pairwise(samples)]
    assert gaps == [m * 60_000 for m in (10, 30, 20, 10, 30, 20, 10)]


def test_one_wrong_year_makes_no_later_row_a_late_one() -> None:
    times = ["2026-06-03T04:30Z", "2062-06-03T04:31Z", "2026-06-03T04:32Z", "2026-06-03T04:33Z"]
    samples, problems = parsed("time,ph\n" + "".join(f"{t},7.1\n" for t in times))
    assert [s.at == s.received_at for s in samples] == [True] * 3
    assert [(p.row, "leaps ahead" in p.text) for p in problems] == [(3, True)]


def test_a_wrong_year_in_the_last_row_is_a_slip_and_a_gap_is_none() -> None:
    rows = "time,ph\n2026-06-03T04:30Z,7.1\n2026-06-03T04:31Z,7.1\n"
    samples, problems = parsed(f"{rows}2062-06-03T04:32Z,7.1\n")
    assert len(samples) == 2
    assert [(p.row, "leaps ahead by over a year" in p.text) for p in problems] == [(4, True)]
    samples, problems = parsed(f"{rows}2026-09-03T04:32Z,7.1\n")
    assert (len(samples), problems) == (3, [])


def test_a_wrong_year_in_the_first_row_is_a_slip_too() -> None:
    times = ["2062-06-03T04:30Z", "2026-06-03T04:31Z", "2026-06-03T04:32Z", "2026-06-03T04:33Z"]
    samples, problems = parsed("time,ph\n" + "".join(f"{t},7.1\n" for t in times))
    assert [s.at == s.received_at for s in samples] == [True] * 3
    assert [(p.row, "lies ahead" in p.text) for p in problems] == [(2, True)]


def test_a_slip_in_the_first_row_is_said_with_its_own_number() -> None:
    _, problems = parsed("time,ph\n\n2062-06-03T04:30Z,7.1\n2026-06-03T04:31Z,7.1\n2026-06-03T04:32Z,7.1\n")
    assert [(p.row, "lies ahead" in p.text) for p in problems] == [(3, True)]


def test_a_wrong_year_in_the_second_row_does_not_cost_the_first() -> None:
    times = ["2026-06-03T04:30Z", "2016-06-03T04:31Z", "2026-06-03T04:32Z", "2026-06-03T04:33Z"]
    samples, problems = parsed("time,ph\n" + "".join(f"{t},7.1\n" for t in times))
    assert [s.at == s.received_at for s in samples] == [True, False, True, True]
    assert problems == []


def test_a_long_gap_and_a_last_row_far_ahead_are_believed() -> None:
    times = ["2026-06-03T04:30Z", "2026-07-03T04:30Z", "2026-07-03T04:31Z", "2027-01-01T00:00Z"]
    samples, problems = parsed("time,ph\n" + "".join(f"{t},7.1\n" for t in times))
    assert (len(samples), problems) == (4, [])


def test_a_late_row_is_received_when_it_stands_in_the_file() -> None:
    samples, _ = parsed("time,ph\n2026-06-03T04:30Z,7.1\n2026-06-03T04:00Z,7.2\n")
    assert samples[1].at < samples[0].at == samples[1].received_at


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("ph,water\n7,18\n", "expected one column `time`"),
        ("time;ph\n", "expected one column `time`"),
        ("time,time,ph\n", "expected one column `time`"),
        ("time,ph,ph\n", "'ph' stands there twice"),
    ],
)
def test_a_header_that_cannot_be_used(text: str, says: str) -> None:
    with pytest.raises(SettingsError, match="row 1") as refused:
        parsed(text)
    assert says in str(refused.value)


def test_odd_files_are_survived() -> None:
    samples, problems = parsed(
        'time,ph\r\n2026-06-03T04:30Z,"7.1"\r\n\r\n2026-06-03T04:31Z,7.\0 1\r\n2026-06-03T04:32Z,"7.2\r\n'
    )
    assert [s.value for s in samples] == [7.1]
    assert len(problems) >= 1
    samples, problems = parsed("time,ph\n2026-06-03T04:30Z," + "9" * 200_000 + "\n2026-06-03T04:31Z,7.0\n")
    assert [s.value for s in samples] == [7.0]
    assert [p.row for p in problems] == [2]


def test_an_open_quotation_swallows_no_row_after_it() -> None:
    samples, problems = parsed(
        'time,ph,note\n2026-06-03T04:30Z,"7.1,x\n2026-06-03T04:31Z,7.2,y\n2026-06-03T04:32Z,7.3,z\n'
    )
    assert [s.value for s in samples] == [7.2, 7.3]
    assert [p.row for p in problems] == [1, 2]


def test_a_note_over_two_lines_costs_neither_its_reading_nor_the_next() -> None:
    samples, problems = parsed(
        'time,ph,note\n2026-06-03T04:30Z,7.1,"herons\nand a cat"\n2026-06-03T04:31Z,7.2,"quiet, at last"\n'
    )
    assert [s.value for s in samples] == [7.1, 7.2]
    assert [p.row for p in problems] == [1, 3]


def test_a_byte_order_mark_is_no_part_of_the_header() -> None:
    samples, problems = parsed("\ufefftime,ph\n2026-06-03T04:30Z,7.1\n")
    assert ([s.value for s in samples], problems) == ([7.1], [])


def test_bytes_that_are_no_text_cost_their_cell() -> None:
    text = b"time,ph,water\n2026-06-03T04:30Z,\xff7.1,18\n2026-06-03T04:31Z,7.2,18\n".decode("utf-8", "replace")
    samples, problems = parsed(text)
    assert [s.value for s in samples] == [18.0, 7.2, 18.0]
    assert [p.row for p in problems] == [2]


def test_a_slip_at_the_end_of_a_gap_is_none_to_follow() -> None:
    times = ["2026-06-03T04:30Z", "2062-06-03T04:31Z", "2026-07-03T04:30Z", "2026-07-03T04:31Z"]
    samples, problems = parsed("time,ph\n" + "".join(f"{t},7.1\n" for t in times))
    assert [s.at for s in samples] == [at("2026-06-03T04:30Z"), at("2026-07-03T04:30Z"), at("2026-07-03T04:31Z")]
    assert [p.row for p in problems] == [3]


def test_hourly_rows_through_the_doubled_hour() -> None:
    times = ["01:00", "02:00", "02:00", "03:00"]
    samples, problems = parsed("time,ph\n" + "".join(f"2026-10-25T{t},7.0\n" for t in times))
    assert problems == []
    assert {b.at - a.at for a, b in itertools.pairwise(samples)} == {3_600_000}


@pytest.mark.parametrize("text", ["٧.١", " 7.1 ", "+7.1", "7.1e0"])
def test_numbers_as_people_write_them(text: str) -> None:
    samples, problems = parsed(f"time,ph\n2026-06-03T04:30Z,{text}\n")
    assert ([s.value for s in samples], problems) == ([7.1], [])


@given(st.text(max_size=300))
def test_no_text_is_fatal(text: str) -> None:
    lines = text.splitlines(keepends=True)
    for item in read(["time,ph\n", *lines, "2026-06-03T04:30Z,7.1\n"], PROBES, ZONE):
        assert isinstance(item, Sample | RowProblem)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(PROBES),
            st.integers(1_700_000_000_000, 1_700_000_100_000),
            st.floats(allow_nan=False, allow_infinity=False),
        ),
        max_size=50,
    )
)
def test_what_was_written_reads_back_the_same(readings: list[tuple[str, int, float]]) -> None:
    ordered = sorted(readings, key=lambda r: (r[1], PROBES.index(r[0])))
    samples, problems = parsed("\n".join(write(ordered, PROBES, ZONE)) + "\n")
    assert problems == []
    back = [(s.probe, s.at, s.value) for s in samples]
    assert sorted(back, key=lambda r: (r[1], r[0])) == sorted(ordered, key=lambda r: (r[1], r[0]))
    for probe in PROBES:
        assert [r for r in back if r[0] == probe] == [r for r in ordered if r[0] == probe]
