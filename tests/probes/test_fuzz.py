"""10 000 generated lines and payloads: no exception leaves a link, and what comes out is finite."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from dawnline.broker import MqttSettings
from dawnline.event import Tick
from dawnline.probes.dialects.routing import Route
from dawnline.probes.dialects.text import Splitter, read_line
from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.intake import Batch, Intake
from dawnline.probes.links.mqtt import MqttLink
from dawnline.probes.links.serial import SerialLink

LINES_EACH, LINE_EXAMPLES, PAYLOAD_EXAMPLES = 8, 1_000, 2_000  # 10 000 lines and payloads
quick = settings(
    deadline=None,
    database=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)

_numbers = st.one_of(
    st.floats().map(repr),
    st.integers(-(10**40), 10**40).map(str),
    st.from_regex(r"[+-]?[0-9]{0,4}[.,]?[0-9]{0,4}([eE][+-]?[0-9]{1,4})?", fullmatch=True),
    st.sampled_from(["nan", "inf", "-Infinity", "1e999", "7,12", "", "true", "0x7", "1_0", "٧", "7.1\0", "+7.1"]),
)
_names = st.sampled_from(["ph", "temp", "t", "redox", "a.b", "", "PH", "1st", "=", "\ud800", "größe"])
_pairs = st.lists(st.tuples(_names, _numbers), max_size=5).flatmap(
    lambda pairs: st.sampled_from([" ", ",", "; ", "=", "\t"]).map(lambda by: by.join(f"{n}={v}" for n, v in pairs))
)
_json = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=5), _numbers),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_names, inner, max_size=4)),
    max_leaves=8,
).map(json.dumps)
_texts = st.one_of(_numbers, _pairs, _json, st.text(max_size=40))
_bytes = st.one_of(
    _texts.map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.binary(max_size=60),
    st.tuples(_texts, st.binary(max_size=3), st.integers(0, 400)).map(
        lambda made: made[0].encode("utf-8", "surrogatepass") + made[1] * made[2]
    ),
)


def _finite(intake: Intake) -> Iterator[float]:
    while not isinstance(item := intake.take(0), Tick):
        assert isinstance(item, Batch)
        for sample in item.samples:
            assert math.isfinite(sample.value)
            assert isinstance(sample.at, int)
            yield sample.value


@given(
    st.lists(_bytes, min_size=LINES_EACH, max_size=LINES_EACH),
    st.lists(st.integers(1, 50), min_size=1, max_size=9),
)
@settings(quick, max_examples=LINE_EXAMPLES)
def test_no_line_hurts_the_serial_link_however_it_is_cut(lines: list[bytes], sizes: list[int]) -> None:
    wire = b"\n".join(lines) + b"\n"
    outcomes = []
    for cuts in (sizes, [len(wire)]):
        intake = Intake(lambda: 1)
        link = SerialLink("/dev/none", 9600, [Route("ph", None, "t"), Route("water", "temp")], intake)
        splitter, at, n = Splitter(), 0, 0
        while at < len(wire):
            link._handle(splitter.feed(wire[at : at + cuts[n % len(cuts)]]))
            at, n = at + cuts[n % len(cuts)], n + 1
        assert splitter.close() is None
        report = link.report()
        assert Refusal.FAULT.value not in report.bad, report.last_refused
        json.dumps(report.as_json(), allow_nan=False)
        outcomes.append((list(_finite(intake)), report.bad))
    assert outcomes[0] == outcomes[1]


@given(_bytes, st.sampled_from(["pond/ph", "pond/object", "pond/stranger"]), st.booleans(), st.booleans())
@settings(quick, max_examples=PAYLOAD_EXAMPLES)
def test_no_payload_hurts_the_mqtt_link(payload: bytes, topic: str, dup: bool, retain: bool) -> None:
    intake = Intake(lambda: 1)
    routes = [
        ("pond/ph", Route("ph")),
        ("pond/object", Route("water", "temp", "t")),
        ("pond/object", Route("x", "a.b")),
    ]
    link = MqttLink(MqttSettings(host="localhost"), "id", routes, intake)
    message: Any = SimpleNamespace(topic=topic, payload=payload, qos=1, dup=dup, retain=retain, mid=1)
    link._caught(link._on_message)(None, None, message)  # type: ignore[call-arg, arg-type]
    report = link.report()
    assert Refusal.FAULT.value not in report.bad, report.last_refused
    assert report.good + sum(report.bad.values()) >= 1
    assert len(list(_finite(intake))) >= report.good
    json.dumps(report.as_json(), allow_nan=False)


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
