"""Generated input for every dialect: no exception leaves a link, and what comes out is finite."""

from __future__ import annotations

import json
from collections.abc import Callable
from types import ModuleType

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from dawnline.probes.dialects.text import Splitter, read_line
from dawnline.probes.dialects.value import Refused, shown
from dawnline.probes.links import mqtt, serial

COUNT = 1_500  # inputs each; the benchmark takes 100 000
quick = settings(database=None, derandomize=True, phases=[Phase.explicit, Phase.generate])
FUZZED = ("text lines", "MQTT payloads", "Modbus RTU frames", "registers", "w1_slave", "times and routes")


def test_every_dialect_is_fuzzed(script: Callable[[str], ModuleType]) -> None:
    assert set(script("fuzz").DIALECTS) == set(FUZZED)


@pytest.mark.parametrize("dialect", FUZZED)
def test_no_input_hurts_and_memory_is_bounded(script: Callable[[str], ModuleType], dialect: str) -> None:
    """No exception past the dialect, every input a value or a counted refusal; the checks are in the script."""
    found = script("fuzz").run(dialect, COUNT)
    assert found.inputs == COUNT
    assert found.peak_bytes < 1_000_000
    assert found.kept_bytes < 100_000
    assert found.classes["good"] > COUNT / 50  # valid ones are among them
    assert len(found.classes) >= 4


@pytest.mark.parametrize("dialect", FUZZED)
def test_the_script_notices_a_decoder_that_raises(
    script: Callable[[str], ModuleType], dialect: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    fuzz = script("fuzz")

    def crash(*_: object) -> None:
        raise ZeroDivisionError

    for module, name in (
        (serial, "read_line"), (mqtt, "read_payload"), (fuzz, "answer_in"),
        (fuzz, "decode_registers"), (fuzz, "decode_w1"), (fuzz, "moment"),
    ):  # fmt: skip
        monkeypatch.setattr(module, name, crash)
    with pytest.raises((ZeroDivisionError, AssertionError)):
        fuzz.run(dialect, 100)


@given(st.floats(allow_nan=False, allow_infinity=False))
@settings(quick, max_examples=500)
def test_a_number_that_was_written_is_the_number_that_is_read(value: float) -> None:
    assert read_line(repr(value).encode()) == {None: repr(value)}
    fields = read_line(json.dumps({"ph": value}).encode())
    assert fields == {"ph": value}


@given(st.one_of(st.binary(max_size=300), st.text(max_size=300)))
@settings(quick, max_examples=500)
def test_what_is_shown_is_short_and_printable(raw: bytes | str) -> None:
    text = shown(raw)
    assert len(text) <= 80
    assert text.isascii()
    assert text.isprintable() or not text


@pytest.mark.parametrize("line", [b"17.12", b"ph=7.12", b'{"ph": 7.12}'])
def test_a_broken_off_line_is_never_another_reading(line: bytes) -> None:
    for cut in range(1, len(line)):
        splitter = Splitter()
        assert splitter.feed(line[:cut]) == []
        assert isinstance(splitter.close(), Refused)
