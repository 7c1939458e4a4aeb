from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.delivery.homie import Property, description, device_id, node_ids, properties
from dawnline.quantity import QUANTITIES

PROBES = {"ph": QUANTITIES["ph"], "deep_end": QUANTITIES["temperature"]}
ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")  # the convention: a-z, 0-9, hyphens inside


@given(st.text(st.characters(), min_size=1, max_size=80))
def test_every_name_gives_a_valid_id(name: str) -> None:
    assert ID.fullmatch(device_id(name))


@given(st.lists(st.from_regex(r"[a-z][a-z0-9_-]{0,31}", fullmatch=True), unique=True, max_size=6))
def test_every_probe_has_a_node_of_its_own(names: list[str]) -> None:
    nodes = node_ids(names)
    assert list(nodes) == names
    assert len({*nodes.values(), "pond", "alarms"}) == len(names) + 2
    assert all(ID.fullmatch(node) for node in nodes.values())


def test_names_that_differ_only_in_what_an_id_cannot_hold_are_told_apart() -> None:
    assert len({device_id(name) for name in ("Teich Süd", "Teich Söd", "Teich S-d", "Teich S d")}) >= 3


def test_the_description_says_what_each_property_is() -> None:
    whole = json.loads(description("Heron Lane", PROBES))
    assert (whole["homie"], whole["name"]) == ("5.0", "Heron Lane")
    assert set(whole["nodes"]) == {"ph", "deep-end", "pond", "alarms"}
    assert whole["nodes"]["deep-end"]["name"] == "deep_end"
    assert whole["nodes"]["deep-end"]["properties"]["value"] == {
        "name": "Value",
        "datatype": "float",
        "unit": "°C",
    }
    assert whole["nodes"]["ph"]["properties"]["flag"]["format"] == "good,not evaluated,suspect,fail,missing"
    assert whole["nodes"]["alarms"]["properties"]["priority"]["format"] == "none,low,medium,high"
    paths = {f"{node}/{name}" for node, each in whole["nodes"].items() for name in each["properties"]}
    assert paths == set(properties(PROBES))


def test_the_version_changes_with_the_document() -> None:
    versions = [json.loads(description(name, PROBES))["version"] for name in ("A", "A", "B")]
    assert versions[0] == versions[1] != versions[2]
    assert all(isinstance(version, int) for version in versions)


@pytest.mark.parametrize(
    ("datatype", "good", "bad"),
    [
        ("float", ["7", "-0.5", "1e-3", ""], ["nan", "inf", "7,1", " 7", "+7", "7.", "٧"]),
        ("integer", ["0", "-3", ""], ["1.0", "1e3", "x"]),
        ("string", ["anything", "", "\n"], []),
        ("enum", ["a", ""], ["A", "c", " a"]),
    ],
)
def test_a_value_must_be_of_its_type(datatype: str, good: list[str], bad: list[str]) -> None:
    each = Property("x", datatype, choices=("a", "b"))  # type: ignore[arg-type]
    assert [value for value in good + bad if each.takes(value)] == good


def test_an_empty_string_is_a_zero_byte_and_an_empty_number_is_gone() -> None:
    assert (Property("x", "string").payload(""), Property("x", "float").payload("")) == ("\0", "")


def test_a_probe_of_millivolts_also_tells_its_ph() -> None:
    found = properties({"glass": QUANTITIES["electrode_mv"], "ph": QUANTITIES["ph"]})
    assert (found["glass/value"].unit, found["glass/ph"].unit) == ("mV", "pH")
    assert "ph/ph" not in found
