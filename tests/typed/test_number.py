from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.errors import InputError
from dawnline.typed.number import number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3", "3"),
        ("2.1", "21/10"),
        ("2,1", "21/10"),
        ("0,125", "1/8"),
        (",5", "1/2"),
        (".5", "1/2"),
        ("5.", "5"),
        ("1/4", "1/4"),
        ("1 1/2", "3/2"),
        ("½", "1/2"),
        ("1½", "3/2"),
        ("14 000", "14000"),
        ("14\u202f000,5", "28001/2"),
        ("1,234.5", "2469/2"),
        ("1.234,5", "2469/2"),
        ("1,234,567", "1234567"),
        ("1.500", "3/2"),
        ("-3", "-3"),
        ("\u22123", "-3"),
        ("+3", "3"),
        ("１２", "12"),
    ],
)
def test_numbers_as_people_type_them(text: str, value: str) -> None:
    assert number(text) == Fraction(value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,500", "may be 1500 or 1.5:"),
        ("12,345", "may be 12345 or 12.3450:"),
        ("1/0", "fraction of nothing"),
        ("", "such as 3, 2.1, 2,1 or 1/4"),
        ("-", "such as"),
        ("1..2", "such as"),
        ("1,2,3", "such as"),
        ("1 2", "such as"),
        ("1e3", "such as"),
        ("nan", "such as"),
        ("inf", "such as"),
        ("0x10", "such as"),
        ("\u0663", "such as"),
        ("9" * 100, "at most 40 characters"),
    ],
)
def test_what_is_no_number_or_more_than_one_is_refused(text: str, says: str) -> None:
    with pytest.raises(InputError) as refused:
        number(text)
    assert says in str(refused.value)


@given(st.decimals(min_value=0, max_value=10**9, places=4))
def test_a_decimal_reads_back_with_point_and_with_comma(value: object) -> None:
    text = f"{value:f}"
    assert number(text) == number(text.replace(".", ",")) == Fraction(text)


@given(st.text(max_size=60))
def test_any_text_is_a_number_or_is_refused(text: str) -> None:
    with suppress(InputError):
        assert isinstance(number(text), Fraction)
