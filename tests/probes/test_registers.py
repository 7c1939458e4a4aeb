"""Modbus: questions, answers, numbers in registers, frames; each against published bytes or a table."""

from __future__ import annotations

import json
import math
import struct
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU

from dawnline.probes.dialects.modbus import answer, question
from dawnline.probes.dialects.registers import RegisterForm, decode
from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.links.rtu import answer_in, complaint, framed

RECORDINGS = json.loads((Path(__file__).parents[1] / "recordings" / "modbus.json").read_text(encoding="utf-8"))

# Modbus over Serial Line V1.02, appendix B, for 02 07; the others computed with crcmod 1.7.
CHECK_SUMS = {
    "02 07": "41 12",
    "01 03 00 00 00 0a": "c5 cd",
    "01 03 00 00 00 02": "c4 0b",
    "01 04 00 00 00 02": "71 cb",
    "11 03 00 6b 00 03": "76 87",
    "01 03 04 02 bc 00 fa": "ba 2c",
    "01 04 04 00 00 00 00": "fb 84",
    "01 83 02": "c0 f1",
    "11 06 00 01 00 03": "9a 9b",
}
# -1.5 is 0xBFC00000 (IEEE 754); 0x01020304 = 16909060, 0x03040102 = 50594050, and so on by hand.
NUMBERS: list[tuple[str, dict[str, Any], float]] = [
    ("02c8", {"type": "int16"}, 712),
    ("fffb", {"type": "int16"}, -5),
    ("fffb", {"type": "uint16"}, 65531),
    ("c802", {"type": "uint16", "byte_order": "little"}, 712),
    ("01020304", {"type": "uint32"}, 16909060),
    ("03040102", {"type": "uint32", "word_order": "little"}, 16909060),
    ("02010403", {"type": "uint32", "byte_order": "little"}, 16909060),
    ("04030201", {"type": "uint32", "byte_order": "little", "word_order": "little"}, 16909060),
    ("fffffffe", {"type": "int32"}, -2),
    ("fffffffe", {"type": "uint32"}, 4294967294),
    ("bfc00000", {"type": "float32"}, -1.5),
    ("0000bfc0", {"type": "float32", "word_order": "little"}, -1.5),
    ("00b8", {"type": "int16", "scale": 0.1}, 18.4),
    ("00b8", {"type": "int16", "scale": 0.1, "offset": -40.0}, -21.6),
    ("7fff", {"type": "int16", "missing": (0x8000, 0xFFFF)}, 32767),
]


def outcome(heard: bytes, truth: dict[str, Any]) -> float | Refused:
    asked = truth["question"]
    form = RegisterForm(**{**truth["form"], "missing": tuple(truth["form"].get("missing", ()))})
    request = framed(asked["unit"], question(asked["table"], asked["register"], form.count))
    pdu = answer_in(heard, request)
    data = complaint(heard, request) if pdu is None else answer(pdu, asked["table"], form.count)
    return data if isinstance(data, Refused) else decode(data, form)


@pytest.mark.parametrize(("frame", "check_sum"), CHECK_SUMS.items())
def test_the_library_frames_as_the_specification_says(frame: str, check_sum: str) -> None:
    whole = bytes.fromhex(frame + check_sum)
    assert framed(whole[0], whole[1:-2]) == whole
    assert FramerRTU.compute_CRC(whole[:-2]).to_bytes(2, "big") == whole[-2:]


def test_the_check_value_of_the_catalogue() -> None:
    # CRC-16/MODBUS in the catalogue of parametrised CRC algorithms: 0x4B37, sent low byte first.
    assert framed(ord("1"), b"23456789")[-2:] == bytes.fromhex("37 4b")


@pytest.mark.parametrize("truth", RECORDINGS, ids=lambda truth: truth["name"])
def test_what_was_heard_gives_its_true_value(truth: dict[str, Any]) -> None:
    found = outcome(bytes.fromhex(truth["heard"]), truth)
    if "value" in truth:
        assert found == truth["value"]
    else:
        assert isinstance(found, Refused)
        assert found.refusal.value == truth["refused"]


@pytest.mark.parametrize("truth", [r for r in RECORDINGS if "value" in r], ids=lambda truth: truth["name"])
def test_an_answer_cut_anywhere_is_no_value_and_whole_it_is_one(truth: dict[str, Any]) -> None:
    heard = bytes.fromhex(truth["heard"])
    values = [outcome(heard[:end], truth) for end in range(len(heard) + 1)]
    numbers = [value for value in values if not isinstance(value, Refused)]
    assert set(numbers) == {truth["value"]}
    assert len(numbers) <= 1 + (2 if truth["name"] == "noise-after" else 0)


@pytest.mark.parametrize("truth", [r for r in RECORDINGS if "value" in r], ids=lambda truth: truth["name"])
def test_one_wrong_bit_never_makes_another_value(truth: dict[str, Any]) -> None:
    heard = bytes.fromhex(truth["heard"])
    for bit in range(8 * len(heard)):
        garbled = bytearray(heard)
        garbled[bit // 8] ^= 1 << bit % 8
        found = outcome(bytes(garbled), truth)
        assert isinstance(found, Refused) or found == truth["value"]


@pytest.mark.parametrize(("data", "form", "value"), NUMBERS)
def test_types_orders_and_scales(data: str, form: dict[str, Any], value: float) -> None:
    assert decode(bytes.fromhex(data), RegisterForm(**form)) == value


@pytest.mark.parametrize("pattern", ["7fc00000", "7f800000", "ff800000", "7f800001"])
def test_no_number_that_is_none(pattern: str) -> None:
    found = decode(bytes.fromhex(pattern), RegisterForm("float32"))
    assert isinstance(found, Refused)
    assert found.refusal is Refusal.NOT_FINITE


@pytest.mark.parametrize(
    ("data", "form"),
    [
        ("8000", RegisterForm(missing=(0x8000,))),
        ("0080", RegisterForm(byte_order="little", missing=(0x8000,))),
        ("ffff", RegisterForm("uint16", missing=(0x7FFF, 0xFFFF))),
        ("ffff7f7f", RegisterForm("float32", word_order="little", missing=(0x7F7FFFFF,))),
    ],
)
def test_a_pattern_that_was_named_is_no_measurement(data: str, form: RegisterForm) -> None:
    found = decode(bytes.fromhex(data), form)
    assert isinstance(found, Refused)
    assert found.refusal is Refusal.NO_MEASUREMENT


@pytest.mark.parametrize("code", range(1, 12))
def test_exception_replies_are_told_apart_by_their_code(code: int) -> None:
    found = answer(bytes([0x84, code]), "input", 1)
    assert isinstance(found, Refused)
    known = code not in (7, 9)
    assert found.refusal.value.startswith(f"exception reply {code}," if known else "exception reply")
    assert (found.refusal is Refusal.EXCEPTION) is not known
    assert found.text == f"code {code}"


quick = settings(database=None, derandomize=True, phases=[Phase.generate], max_examples=500)
_forms = st.builds(
    RegisterForm,
    st.sampled_from(["int16", "uint16", "int32", "uint32", "float32"]),
    st.sampled_from(["big", "little"]),
    st.sampled_from(["big", "little"]),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(allow_nan=False, allow_infinity=False),
    st.lists(st.integers(0, 0xFFFF_FFFF), max_size=2).map(tuple),
)


@quick
@given(st.lists(_forms, min_size=8, max_size=8), st.binary(min_size=512, max_size=512))
def test_no_bytes_hurt_the_decoder(forms: list[RegisterForm], data: bytes) -> None:
    """100 000 inputs: 500 times 200 slices of a random block, the forms in turn."""
    for n in range(200):
        size = (2, 4, 2, 4, 0, 3)[n % 6]
        found = decode(data[n : n + size], forms[n % 8])
        assert isinstance(found, Refused) or math.isfinite(found)


@quick
@given(st.binary(min_size=300, max_size=300), st.integers(1, 247), st.sampled_from(["holding", "input"]))
def test_no_answer_hurts_the_reader(noise: bytes, unit: int, table: Any) -> None:
    """100 000 inputs: 500 times 200 slices, every other one with a head that fits."""
    function = {"holding": 3, "input": 4}[table]
    for n in range(200):
        pdu = noise[n : n + n % 7]
        if n % 2:
            pdu = bytes([function | (0x80 if n % 3 == 0 else 0)]) + pdu
        found = answer(pdu, table, 1 + n % 2)
        assert isinstance(found, Refused) or len(found) == 2 + 2 * (n % 2)


@settings(quick, max_examples=1000)
@given(
    st.lists(st.tuples(st.binary(max_size=12), st.booleans()), min_size=10, max_size=10),
    st.integers(1, 247),
    st.integers(0, 65535),
)
def test_no_noise_hurts_the_frames(noises: list[tuple[bytes, bool]], unit: int, value: int) -> None:
    """And what comes out is the answer that was put in, whatever lies before it."""
    request = framed(unit, question("holding", 0, 1))
    whole = framed(unit, struct.pack(">BBH", 3, 2, value))
    for noise, real in noises:
        heard = noise + whole if real else noise
        found = answer_in(heard, request)
        if found is None:
            assert isinstance(complaint(heard, request), Refused)
            assert not real or heard.startswith(request)
        elif real:
            assert found == whole[1:-2]


@given(st.integers(-(1 << 31), (1 << 31) - 1), st.sampled_from(["big", "little"]))
@settings(quick)
def test_what_was_written_is_read(number: int, words: Any) -> None:
    data = struct.pack(">i", number)
    data = data if words == "big" else data[2:] + data[:2]
    assert decode(data, RegisterForm("int32", word_order=words)) == number
