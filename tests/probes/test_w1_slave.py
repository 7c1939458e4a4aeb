"""1-Wire files: the check sum's published example, every class of refusal, cut and garbled files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.dialects.w1_slave import crc8, decode

RECORDINGS = json.loads((Path(__file__).parents[1] / "recordings" / "onewire.json").read_text(encoding="utf-8"))
GOOD = [r for r in RECORDINGS if "value" in r]


def test_a_verdict_in_small_letters_is_one() -> None:
    # A patch proposed for the kernel's driver writes it so.
    good = next(r["content"] for r in GOOD)
    assert decode(good.replace("YES", "yes").encode()) == decode(good.encode())
    found = decode(good.replace("YES", "no").encode())
    assert isinstance(found, Refused)
    assert found.refusal is Refusal.CHECKSUM


def test_check_sum_of_the_application_note() -> None:
    # Maxim application note 27, "Understanding and Using Cyclic Redundancy Checks", example 2: family 02, number
    # 00000001B81C, check sum A2; over all eight bytes it comes to zero.
    rom = bytes.fromhex("02 1C B8 01 00 00 00 A2")
    assert crc8(rom[:7]) == 0xA2
    assert crc8(rom) == 0
    assert crc8(b"123456789") == 0xA1  # the check value of CRC-8/MAXIM in the catalogue of parametrised CRC algorithms


@pytest.mark.parametrize("truth", RECORDINGS, ids=lambda truth: truth["name"])
def test_a_file_gives_its_true_value(truth: dict[str, Any]) -> None:
    found = decode(truth["content"].encode())
    if "value" in truth:
        assert found == truth["value"]
    else:
        assert isinstance(found, Refused)
        assert found.refusal.value == truth["refused"]
        assert len(found.text) <= 80
        assert found.text.isascii()


@pytest.mark.parametrize("truth", GOOD, ids=lambda truth: truth["name"])
def test_a_file_cut_anywhere_is_no_value(truth: dict[str, Any]) -> None:
    content = truth["content"].encode()
    assert all(isinstance(decode(content[:end]), Refused) for end in range(len(content)))


@pytest.mark.parametrize("truth", GOOD, ids=lambda truth: truth["name"])
def test_one_wrong_bit_in_the_first_line_is_no_value(truth: dict[str, Any]) -> None:
    content = truth["content"].encode()
    for bit in range(8 * content.index(b"\n")):
        garbled = bytearray(content)
        garbled[bit // 8] ^= 1 << bit % 8
        assert isinstance(decode(bytes(garbled)), Refused)


@pytest.mark.parametrize(
    ("content", "refusal"),
    [
        (b"\xff" * 20, Refusal.NOT_ASCII),
        (b"x" * 1000, Refusal.TOO_LONG),
        (b" \n\n", Refusal.EMPTY),
        (GOOD[0]["content"].replace("t=", "t=+").encode(), Refusal.NOT_TWO_LINES),
        (GOOD[0]["content"].replace("t=", "t=--").encode(), Refusal.NOT_TWO_LINES),
        (GOOD[0]["content"].replace("YES", "PERHAPS").encode(), Refusal.NOT_TWO_LINES),
    ],
)
def test_what_no_kernel_writes(content: bytes, refusal: Refusal) -> None:
    found = decode(content)
    assert isinstance(found, Refused)
    assert found.refusal is refusal


@settings(database=None, derandomize=True, phases=[Phase.generate], max_examples=500)
@given(
    st.binary(min_size=256, max_size=256),
    st.lists(st.tuples(st.integers(0, 79), st.integers(0, 255)), min_size=10, max_size=10),
    st.integers(-999_999, 999_999),
)
def test_no_file_hurts(noise: bytes, spots: list[tuple[int, int]], thousandths: int) -> None:
    """100 000 inputs: 500 times 100 slices of noise and 100 true files, one byte of each made another."""
    nine = noise[:8] + bytes([crc8(noise[:8])])
    true = f"{nine.hex(' ')} : crc={nine[8]:02x} YES\n{nine.hex(' ')} t={thousandths}\n".encode()
    for n in range(100):
        place, byte = spots[n % 10]
        garbled = bytearray(true)
        garbled[(place + n) % len(true)] = byte
        for content in (noise[n : 2 * n], bytes(garbled)):
            found = decode(content)
            assert isinstance(found, Refused) or -55.0 <= found <= 125.0
    found = decode(true)
    fits = -55_000 <= thousandths <= 125_000 and thousandths != 85_000 and any(nine)
    assert isinstance(found, Refused) is not fits
