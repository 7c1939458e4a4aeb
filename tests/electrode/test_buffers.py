from __future__ import annotations

import pytest

from dawnline.electrode.buffers import BUFFERS, Buffer, find_buffer, find_buffers
from dawnline.errors import InputError

# Ph. Eur. 5.0, table 2.2.3-2: 15, 20, 25, 30, 35 degC. Another source than the shipped table's.
PHARMACOPOEIA = {
    "phthalate": (4.00, 4.00, 4.01, 4.02, 4.02),
    "phosphate": (6.90, 6.88, 6.87, 6.85, 6.84),
    "phosphate-7.4": (7.45, 7.43, 7.41, 7.40, 7.39),
    "borax": (9.28, 9.23, 9.18, 9.14, 9.10),
    "carbonate": (10.12, 10.06, 10.01, 9.97, 9.93),
}


@pytest.mark.parametrize(("name", "values"), PHARMACOPOEIA.items())
def test_primary_standards_agree_with_the_pharmacopoeia(name: str, values: tuple[float, ...]) -> None:
    for celsius, expected in zip((15, 20, 25, 30, 35), values, strict=True):
        assert BUFFERS[name].ph(celsius) == pytest.approx(expected, abs=0.0101)


def test_technical_buffers_by_table() -> None:
    assert [BUFFERS[name].ph(25) for name in ("4.00", "7.00", "10.01")] == [4.00, 7.00, 10.01]
    assert [BUFFERS[name].ph(5) for name in ("4.00", "7.00", "10.01")] == [4.00, 7.09, 10.25]
    assert [BUFFERS[name].ph(50) for name in ("4.00", "7.00", "10.01")] == [4.06, 6.97, 9.83]


def test_between_the_rows() -> None:
    assert BUFFERS["7.00"].ph(12.5) == pytest.approx(7.05)
    assert BUFFERS["phosphate"].ph(16.5) == pytest.approx(6.894)


@pytest.mark.parametrize("celsius", [-0.1, 50.1, float("nan")])
def test_outside_the_table_there_is_no_value(celsius: float) -> None:
    with pytest.raises(InputError, match="known from 0 to 50 degC"):
        BUFFERS["7.00"].ph(celsius)


@pytest.mark.parametrize(
    ("word", "name"),
    [("7", "7.00"), ("7.00", "7.00"), ("10", "10.01"), ("10.01", "10.01"), ("4", "4.00"), ("6.865", "phosphate"),
     ("6.86", "phosphate"), ("9.18", "borax"), ("4.01", "phthalate"), ("borax", "borax")],
)  # fmt: skip
def test_a_bottle_is_found_by_what_stands_on_it(word: str, name: str) -> None:
    assert find_buffer(word).name == name


def test_the_keepers_own_bottle_wins() -> None:
    own = Buffer("7.00", ((20.0, 7.03), (25.0, 7.01)))
    assert find_buffer("7.00", [own]) is own
    assert find_buffer("7.01", [own]) is own
    assert own.nominal == 7.01


def test_a_bottle_whose_name_has_a_space() -> None:
    own = Buffer("pool 7", ((20.0, 7.03), (25.0, 7.01)))
    assert find_buffers("pool 7", [own]) == [own]
    assert [each.name for each in find_buffers("10, pool 7,4", [own])] == ["10.01", "pool 7", "4.00"]
    assert [each.name for each in find_buffers("7 10")] == ["7.00", "10.01"]


@pytest.mark.parametrize("word", ["8", "", "nan", "pond", "7.5"])
def test_an_unknown_buffer(word: str) -> None:
    with pytest.raises(InputError, match=r"there are: .*borax"):
        find_buffer(word)
