from __future__ import annotations

from typing import Any

import pytest

from dawnline.errors import InputError
from dawnline.logbook.acts import KINDS, read

VALID: dict[str, dict[str, Any]] = {
    "hand-test": {"kh_dkh": 3, "ph": 7.4, "note": "after rain"},
    "water-change": {"share": 0.15, "source_kh_dkh": 1.0},
    "dose": {"what": "sodium bicarbonate", "grams": 200},
    "media": {"what": "oyster shell", "kilograms": 5},
    "feed": {"grams_a_day": 120, "protein_percent": 38},
    "aeration": {"state": "off"},
    "rain": {"mm": 12.5},
    "top-up": {"mm": 20, "source_kh_dkh": 2, "source_ph": 7.6},
    "feeding": {"state": "stopped"},
    "fish": {"number": 11, "length_cm": 45, "state": "added"},
    "pond-cleaning": {"what": "filter"},
    "ice": {"state": "part"},
    "aerated-cup": {"before": 6.4, "after": 7.3, "for": "30m"},
    "salt": {"kilograms": 10},
    "dechlorinator": {"millilitres": 50},
    "algaecide": {"what": "copper sulfate", "grams": 10},
    "medication": {"what": "formalin", "millilitres": 100, "photo": "label.jpg"},
    "note": {"note": "herons", "when": "2026-06-03T08:00:00+02:00"},
    "correct": {"entry": "ab", "kind": "rain", "at": "2026-06-03T08:00:00+02:00", "body": {"mm": 3}},
    "withdraw": {"entry": "ab", "at": 5},
    "cleaning": {"probe": "ph", "for": "20m"},
    "adjusted": {"probe": "ph", "when": "2026-06-03T08:00:00+02:00"},
    "calibration": {"probe": "ph", "outcome": True},
    "calibrated": {"probe": "ph", "points": [[7.02, -1.3, 20.5], [10.06, -171, 20.5]], "settled_s": 40},
    "buffer-check": {"probe": "ph", "buffer_ph": 7.02, "measured": 7.1, "temperature_c": 20},
    "out-of-service": {"probe": "ph", "for": "30m"},
    "return": {"probe": "ph"},
    "acknowledge": {"id": 3},
    "shelve": {"id": 3, "for": "2h"},
    "unshelve": {"id": 3},
}


def test_every_kind_is_tried_here() -> None:
    assert set(VALID) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_good_act_is_read(kind: str) -> None:
    assert read(kind, VALID[kind])


@pytest.mark.parametrize(
    ("kind", "body", "says"),
    [
        ("hand-tset", {}, "did you mean 'hand-test'"),
        ("dance", {}, "known: hand-test"),
        ("hand-test", {}, "at least one figure"),
        ("hand-test", {"note": "nothing measured"}, "at least one figure"),
        ("hand-test", {"kh": 3}, "unknown key 'kh'"),
        ("hand-test", {"ph": 72}, "ph: expected less than or equal to 12, found 72"),
        ("hand-test", {"ph": "7,2"}, "found '7,2'"),
        ("water-change", {}, "either share (0 to 1) or litres"),
        ("water-change", {"share": 0.1, "litres": 100}, "either share (0 to 1) or litres"),
        ("water-change", {"share": 15}, "found 15"),
        ("dose", {"grams": 3}, "'what' is missing"),
        ("dose", {"what": "x", "grams": float("nan")}, "grams"),
        ("aeration", {"state": "of"}, "found 'of'"),
        ("shelve", {"id": 3}, "'for' is missing"),
        ("shelve", {"id": 3, "for": 2}, 'such as "30s"'),
        ("shelve", {"id": 3, "for": "9d"}, "for"),
        ("top-up", {}, "litres or mm"),
        ("fish", {}, "number, a length or a mass"),
        ("note", {"note": "x", "when": "2026-06-03T08:00"}, "a time with its offset"),
        ("note", {"note": "x", "when": True}, "a time with its offset"),
        ("rain", {"mm": 1, "when": "0001-01-01T00:00:00+00:00"}, "when: expected a time from 1970 to 2100"),
        ("rain", {"mm": 1, "when": "9999-12-31T23:59:59+00:00"}, "when: expected a time from 1970 to 2100"),
        ("rain", {"mm": 1, "when": 1 << 70}, "when: expected a time from 1970 to 2100"),
        ("feeding", {"state": "off"}, "'stopped' or 'begun'"),
        ("correct", {"entry": "ab", "kind": "shelve", "at": 1, "body": {"id": 1}}, "cannot be corrected"),
        ("correct", {"entry": "ab", "kind": "rain", "at": 1, "body": {"cm": 1}}, "unknown key 'cm'"),
        ("acknowledge", {"id": "three"}, "found 'three'"),
        ("out-of-service", {"probe": "ph"}, "'for' is missing"),
    ],
)
def test_a_bad_act_is_refused_with_key_found_and_expected(kind: str, body: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError) as refused:
        read(kind, body)
    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("x" * 100_000, {}),
        ("note", {"x" * 100_000: 1}),
        ("note", {"note": "x" * 100_000}),
        ("dose", {"what": "salt", "grams": "x" * 100_000}),
        ("return", {"probe": "x" * 100_000}),
        ("shelve", {"id": 1, "for": "9" * 100_000 + "d"}),
        ("acknowledge", {"id": 10**400}),
    ],
)
def test_a_huge_value_makes_no_huge_message(kind: str, body: dict[str, Any]) -> None:
    with pytest.raises(InputError) as refused:
        read(kind, body)
    assert len(str(refused.value)) < 500


def test_points_in_one_word() -> None:
    words = read("calibrated", {"probe": "ph", "points": "7.02:-1.3:20.5, 10.06:-171:20.5"})
    assert words == read("calibrated", {"probe": "ph", "points": [[7.02, -1.3, 20.5], [10.06, -171, 20.5]]})


@pytest.mark.parametrize("points", ["", "7.02:-1.3", "7:0:25 " * 4, "7:x:25", [], [[7, 0]], [[70, 0, 25]], 7, None])
def test_points_that_are_none(points: Any) -> None:
    with pytest.raises(InputError, match="points"):
        read("calibrated", {"probe": "ph", "points": points})


@pytest.mark.parametrize(
    "odd", [{"before": 7.0}, {"meter_before": 7.0, "meter_after": 7.0}, {"before": 7, "after": 7, "meter_after": 7}]
)
def test_readings_around_a_cleaning_come_in_pairs(odd: dict[str, float]) -> None:
    with pytest.raises(InputError, match="meter"):
        read("cleaning", {"probe": "ph", **odd})
    read("cleaning", {"probe": "ph", "before": 7.0, "after": 7.1, "meter_before": 7.2, "meter_after": 7.2})
