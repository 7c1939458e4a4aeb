"""The serial text link, line by line and however the bytes are cut."""

from __future__ import annotations

import pytest

from dawnline.probes.dialects.text import MAX_LINE_BYTES, Splitter, read_line
from dawnline.probes.dialects.value import Refusal, Refused

NESTED = b'{"a":' * 40 + b"1" + b"}" * 40


@pytest.mark.parametrize(
    ("line", "fields"),
    [
        (b"7.12", {None: "7.12"}),
        (b" +7.12\t", {None: "+7.12"}),
        (b"ph=7.12", {"ph": "7.12"}),
        (b"ph=7.12 temp=18.4", {"ph": "7.12", "temp": "18.4"}),
        (b"ph=7.12,temp=18.4;rain=0,", {"ph": "7.12", "temp": "18.4", "rain": "0"}),
        (b"ph=nan temp=18.4", {"ph": "nan", "temp": "18.4"}),
        (b"ph= temp=18.4", {"ph": "", "temp": "18.4"}),
        (b"t=2026-06-03T04:30:00+02:00 ph=7", {"t": "2026-06-03T04:30:00+02:00", "ph": "7"}),
        (b'{"ph": 7.12, "w": {"temp": 18}}', {"ph": 7.12, "w.temp": 18.0}),
        (b'{"a.b": 1, "a": {"c": true}}', {"a.b": 1.0, "a.c": True}),
    ],
)
def test_a_line_that_can_be_read(line: bytes, fields: object) -> None:
    assert read_line(line) == fields


@pytest.mark.parametrize(
    ("line", "refusal"),
    [
        (b"7,12", Refusal.DECIMAL_COMMA),
        (b"ph=7,12 temp=18,4", Refusal.DECIMAL_COMMA),
        (b"ph=7,12,temp=18", Refusal.DECIMAL_COMMA),
        (b"ph=7, 12", Refusal.NOT_A_PAIR),
        (b"ph=7,12e0", Refusal.NOT_A_PAIR),
        (b"ph=7.12 18.4", Refusal.NOT_A_PAIR),
        (b"temp=18.4ph=7.1", Refusal.NOT_A_PAIR),  # a line end got lost
        (b"ph=7 ph=8", Refusal.DUPLICATE_KEY),
        (b'{"ph": 7, "ph": 8}', Refusal.DUPLICATE_KEY),
        (b'{"a.b": 1, "a": {"b": 2}}', Refusal.DUPLICATE_KEY),
        (b"7.12 pH", Refusal.NOT_A_NUMBER),
        (b"7.12\x00", Refusal.NOT_A_NUMBER),
        (b"7.1.2", Refusal.NOT_A_NUMBER),
        (b"7_1", Refusal.NOT_A_NUMBER),
        (b"0x7", Refusal.NOT_A_NUMBER),
        (b"++7", Refusal.NOT_A_NUMBER),
        (b"7.1\r7.2", Refusal.NOT_A_NUMBER),
        (b"nan", Refusal.NOT_FINITE),
        (b"-Infinity", Refusal.NOT_FINITE),
        (b"1e999", Refusal.NOT_FINITE),
        (b"9" * 250 + b"e99", Refusal.NOT_FINITE),
        (b"\xef\xbb\xbf7.12", Refusal.NOT_ASCII),
        ("7.12 °".encode(), Refusal.NOT_ASCII),
        (b'{"ph": 7.12', Refusal.NOT_JSON),
        (b'{"ph": 7,12}', Refusal.NOT_JSON),
        (b'{"ph": 7.12} x', Refusal.NOT_JSON),
        (NESTED, Refusal.NESTED_TOO_DEEP),
        (b"  ", Refusal.EMPTY),
        (b"7" * (MAX_LINE_BYTES + 1), Refusal.TOO_LONG),
    ],
)
def test_a_line_that_is_refused_says_why(line: bytes, refusal: Refusal) -> None:
    found = read_line(line)
    assert isinstance(found, Refused)
    assert found.refusal is refusal
    assert len(found.text) <= 80
    assert found.text.isprintable()


def _lines(splitter: Splitter, *chunks: bytes) -> list[bytes | Refusal]:
    found = [line for chunk in chunks for line in splitter.feed(chunk)]
    return [line.refusal if isinstance(line, Refused) else line for line in found]


def test_line_ends_of_every_kind_and_blank_lines() -> None:
    assert _lines(Splitter(), b"7.1\n7.2\r\n\r\n \n7.3\r7.4\r") == [b"7.1", b"7.2", b"7.3", b"7.4"]
    assert _lines(Splitter(), b"7.1\r", b"\n7.2", b"\r\n") == [b"7.1", b"7.2"]


def test_nothing_is_given_out_before_its_line_end() -> None:
    splitter = Splitter()
    assert _lines(splitter, b"7.", b"1", b"2") == []
    assert _lines(splitter, b"\n") == [b"7.12"]


def test_the_first_fragment_is_refused_only_where_it_may_be_cut() -> None:
    assert _lines(Splitter(mid_line=True), b"7.12\n", b"7.13\n") == [Refusal.CUT, b"7.13"]
    assert _lines(Splitter(mid_line=True), b"\n7.13\n") == [b"7.13"]
    assert _lines(Splitter(mid_line=False), b"7.12\n") == [b"7.12"]


@pytest.mark.parametrize("size", [1, 100, 10_000])
def test_an_over_long_line_is_refused_once_and_held_in_bounds(size: int) -> None:
    splitter = Splitter()
    data = b"8" * 10_000 + b"\n7.12\n"
    chunks = [data[i : i + size] for i in range(0, len(data), size)]
    assert _lines(splitter, *chunks) == [Refusal.TOO_LONG, b"7.12"]
    longest = b"7" * MAX_LINE_BYTES
    assert _lines(Splitter(), longest + b"\r\n") == [longest]


def test_what_is_unfinished_at_the_end_is_refused() -> None:
    splitter = Splitter()
    splitter.feed(b"7.12\n7.1")
    assert splitter.close() == Refused(Refusal.CUT, "7.1")
    assert splitter.close() is None
