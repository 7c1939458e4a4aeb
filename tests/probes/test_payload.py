"""MQTT payloads, times of senders, and who gets which value."""

from __future__ import annotations

import pytest

from dawnline.probes.dialects.fields import pick
from dawnline.probes.dialects.moment import moment
from dawnline.probes.dialects.payload import MAX_PAYLOAD_BYTES, read_payload
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.value import Refusal, Refused, Value

AT = 1_780_461_000_000  # 2026-06-03T04:30:00Z


def decode(payload: bytes, key: str | None, time_key: str | None) -> Value | Refused:
    fields = read_payload(payload)
    return fields if isinstance(fields, Refused) else pick(fields, key, time_key)


@pytest.mark.parametrize(
    ("payload", "key", "value"),
    [
        (b"7.12", None, Value(None, 7.12, None)),
        (b"\r\n 7.12 \n", None, Value(None, 7.12, None)),
        (b'"7.12"', None, Value(None, 7.12, None)),
        (b'{"ph": 7.12}', "ph", Value("ph", 7.12, None)),
        (b'{"ph": "7.12"}', "ph", Value("ph", 7.12, None)),
        (b'{"w": {"ph": 7}, "t": "2026-06-03T04:30:00Z"}', "w.ph", Value("w.ph", 7.0, AT)),
        (b'{"ph": 7, "t": "2026-06-03T06:30:00+02:00"}', "ph", Value("ph", 7.0, AT)),
        (b'{"ph": 7, "t": 1780461000}', "ph", Value("ph", 7.0, AT)),
        (b'{"ph": 7, "t": 1780461000000}', "ph", Value("ph", 7.0, AT)),
        (b'{"ph": 7, "t": "1780461000.25"}', "ph", Value("ph", 7.0, AT + 250)),
        ('{"größe": 1, "ph": 7}'.encode(), "ph", Value("ph", 7.0, None)),
    ],
)
def test_a_payload_that_can_be_read(payload: bytes, key: str | None, value: Value) -> None:
    assert decode(payload, key, "t") == value


@pytest.mark.parametrize(
    ("payload", "key", "refusal"),
    [
        (b"", None, Refusal.EMPTY),
        (b" \n", None, Refusal.EMPTY),
        (b"\xff7", None, Refusal.NOT_UTF8),
        (b"\xef\xbb\xbf7.12", None, Refusal.BYTE_ORDER_MARK),
        (b"7\x00.\x001\x00", None, Refusal.NOT_A_NUMBER),
        (b"7,12", None, Refusal.DECIMAL_COMMA),
        (b"on", None, Refusal.NOT_A_NUMBER),
        (b"true", None, Refusal.NOT_A_NUMBER),
        ("٧".encode(), None, Refusal.NOT_A_NUMBER),  # a digit to float()
        (b"9" * 5000, None, Refusal.NOT_FINITE),
        (b"0" * (MAX_PAYLOAD_BYTES + 1), None, Refusal.TOO_LONG),
        (b"[7.12]", None, Refusal.NOT_AN_OBJECT),
        (b"[" * 16_000, None, Refusal.NESTED_TOO_DEEP),
        (b'{"a":' * 3_000, "a", Refusal.NESTED_TOO_DEEP),
        (b'{"ph": 7.1', "ph", Refusal.NOT_JSON),
        (b'{"ph": +7.1}', "ph", Refusal.NOT_JSON),
        (b'{"ph": 7.1, "ph": 7.2}', "ph", Refusal.DUPLICATE_KEY),
        (b'{"ph": 7.1}', None, Refusal.NO_SUCH_KEY),
        (b'{"ph": 7.1}', "w.ph", Refusal.NO_SUCH_KEY),
        (b"7.1", "ph", Refusal.NO_SUCH_KEY),
        (b'{"ph": true}', "ph", Refusal.NOT_A_NUMBER),
        (b'{"ph": null}', "ph", Refusal.NOT_A_NUMBER),
        (b'{"ph": [7.1]}', "ph", Refusal.NOT_A_NUMBER),
        (b'{"ph": "7,1"}', "ph", Refusal.DECIMAL_COMMA),
        (b'{"ph": NaN}', "ph", Refusal.NOT_FINITE),
        (b'{"ph": -Infinity}', "ph", Refusal.NOT_FINITE),
        (b'{"ph": 1e999}', "ph", Refusal.NOT_FINITE),
        (b'{"ph": ' + b"9" * 5000 + b"}", "ph", Refusal.NOT_FINITE),
        (b'{"ph": 7, "t": "2026-06-03T04:30:00"}', "ph", Refusal.BAD_TIME),
        (b'{"ph": 7, "t": true}', "ph", Refusal.BAD_TIME),
    ],
)
def test_a_payload_that_is_refused_says_why(payload: bytes, key: str | None, refusal: Refusal) -> None:
    found = decode(payload, key, "t")
    assert isinstance(found, Refused)
    assert found.refusal is refusal
    assert len(found.text) <= 80


@pytest.mark.parametrize(
    "raw",
    [
        "",
        "soon",
        "2026-06-03",
        0.0,
        12.5,
        -1.0,
        1e300,
        float("nan"),
        5e9,
        9e11,
        None,
        True,
        "0001-01-01T00:00:00Z",
        "9999-12-31T23:59:59Z",
        "1999-12-31T23:59:59Z",
        "x" * 9999,
    ],
)
def test_a_time_nobody_can_mean_is_refused(raw: object) -> None:
    assert moment(raw) is Refusal.BAD_TIME


def test_a_bare_number_belongs_to_the_only_probe_or_the_only_one_without_a_key() -> None:
    bare = {None: "7.1"}
    assert Routing([Route("ph", "acid")]).route(bare).values == (("ph", 7.1, None),)
    assert Routing([Route("ph"), Route("water", "t")]).route(bare).values == (("ph", 7.1, None),)
    for routes in ([Route("ph"), Route("water")], [Route("ph", "a"), Route("water", "b")]):
        routed = Routing(routes).route(bare)
        assert routed.values == ()
        assert routed.refused == (Refused(Refusal.BARE_NUMBER, "7.1"),)


def test_names_select_and_strangers_do_no_harm() -> None:
    routing = Routing([Route("ph"), Route("water", "temp", "at")])
    routed = routing.route({"ph": "7.1", "temp": "18", "at": "1780461000", "redox": "x"})
    assert routed.values == (("ph", 7.1, None), ("water", 18.0, AT))
    assert routed.refused == ()
    assert routed.unknown == ("redox",)


def test_one_bad_value_costs_only_itself_and_an_absent_probe_is_not_missed() -> None:
    routing = Routing([Route("ph"), Route("water", "temp")])
    routed = routing.route({"ph": "nan", "temp": "18"})
    assert routed.values == (("water", 18.0, None),)
    assert routed.refused == (Refused(Refusal.NOT_FINITE, "ph=nan", "ph"),)
    assert routing.route({"ph": "7"}).refused == ()
    assert routing.route({"x": "7"}).refused == (Refused(Refusal.NO_SUCH_KEY, "x"),)


def test_a_scale_makes_tips_and_inches_millimetres() -> None:
    routing = Routing([Route("rain", "gauge.tips", None, 0.2794), Route("roof", "gauge.inches", None, 25.4)])
    payload = read_payload(b'{"gauge": {"tips": 12, "inches": 0.31}}')
    assert not isinstance(payload, Refused)
    assert routing.route(payload).values == (("rain", 3.3528, None), ("roof", 7.874, None))
    bare = read_payload(b"3")
    assert not isinstance(bare, Refused)
    assert Routing([Route("rain", scale=0.2)]).route(bare).values == (("rain", 0.6, None),)


def test_a_value_that_no_longer_fits_is_refused() -> None:
    payload = read_payload(b'{"tips": 1e300}')
    assert not isinstance(payload, Refused)
    found = Routing([Route("rain", "tips", None, 1e20)]).route(payload)
    assert not found.values
    assert found.refused[0].refusal is Refusal.NOT_FINITE
