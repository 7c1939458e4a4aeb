"""Recorded wire bytes and their true values, however the bytes are cut."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from math import isfinite
from pathlib import Path
from typing import Any

import pytest

from dawnline.probes.dialects.fields import Fields
from dawnline.probes.dialects.payload import read_payload
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.text import Splitter, read_line
from dawnline.probes.dialects.value import Refused

FOLDER = Path(__file__).parents[1] / "recordings"
WIRES = sorted(path for path in FOLDER.iterdir() if path.suffix in {".txt", ".bin"})
CUTS = {"whole": 1, "halved": 2, "thirds": 3, "byte by byte": 0}


def _cut(wire: bytes, parts: int) -> list[bytes]:
    size = 1 if parts == 0 else -(-len(wire) // parts)
    return [wire[i : i + size] for i in range(0, len(wire), size)]


def _stream(wire: bytes, parts: int, *, mid_line: bool) -> Iterable[Fields | Refused]:
    splitter = Splitter(mid_line=mid_line)
    for chunk in _cut(wire, parts):
        for line in splitter.feed(chunk):
            yield line if isinstance(line, Refused) else read_line(line)
    if (rest := splitter.close()) is not None:
        yield rest


def _outcome(found: Iterable[Fields | Refused], truth: dict[str, Any]) -> dict[str, Any]:
    routing = Routing([Route(*probe) for probe in truth["probes"]])
    values: list[list[Any]] = []
    refused: Counter[str] = Counter()
    unknown: list[str] = []
    for fields in found:
        if isinstance(fields, Refused):
            refused[fields.refusal.value] += 1
            continue
        routed = routing.route(fields)
        values += [list(value) for value in routed.values]
        refused.update(each.refusal.value for each in routed.refused)
        unknown += routed.unknown
    return {"values": values, "refused": dict(refused), "unknown": unknown}


def test_there_are_recordings() -> None:
    assert {path.name.partition("-")[0] for path in WIRES} == {"serial", "mqtt"}


@pytest.mark.parametrize("cut", CUTS)
@pytest.mark.parametrize("path", [p for p in WIRES if p.name.startswith("serial")], ids=lambda p: p.stem)
def test_a_recorded_stream_gives_its_true_values(path: Path, cut: str) -> None:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    found = _stream(path.read_bytes(), CUTS[cut], mid_line=truth.get("mid_line", False))
    assert _outcome(found, truth) == {name: truth[name] for name in ("values", "refused", "unknown")}


@pytest.mark.parametrize("path", [p for p in WIRES if p.name.startswith("mqtt")], ids=lambda p: p.stem)
def test_a_recorded_payload_gives_its_true_values(path: Path) -> None:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    found = _outcome([read_payload(path.read_bytes())], truth)
    assert found == {name: truth[name] for name in ("values", "refused", "unknown")}


@pytest.mark.parametrize("path", [p for p in WIRES if p.name.startswith("mqtt")], ids=lambda p: p.stem)
def test_an_object_cut_anywhere_is_no_value(path: Path) -> None:
    """A bare number that is cut is another number: only what carries the bytes, TCP and MQTT's own length, sees it."""
    payload = path.read_bytes().rstrip()
    for end in range(len(payload)):
        found = read_payload(payload[:end])
        assert isinstance(found, Refused) or not payload.startswith(b"{")
    assert not isinstance(read_payload(payload), Refused)


@pytest.mark.parametrize("path", [p for p in WIRES if p.name.startswith("mqtt")], ids=lambda p: p.stem)
def test_a_garbled_payload_is_a_refusal_or_finite_and_dated(path: Path) -> None:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    payload = path.read_bytes()
    refused = 0
    for bit in range(8 * len(payload)):
        garbled = bytearray(payload)
        garbled[bit // 8] ^= 1 << bit % 8
        found = _outcome([read_payload(bytes(garbled))], truth)
        assert found["values"] or found["refused"]
        assert all(isfinite(value) and (at is None or at > 946_684_800_000) for _, value, at in found["values"])
        refused += bool(found["refused"])
    assert refused > 8 * len(payload) / 4
