"""What a person types, and the act that it becomes."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.errors import InputError
from dawnline.logbook.acts import KINDS, POND_KINDS, read
from dawnline.logbook.entry import Typed, marks
from dawnline.logbook.settings import LogbookSettings
from dawnline.logbook.settle import WORDS, Habits, pairs, settle

BERLIN = ZoneInfo("Europe/Berlin")
NOON = 1_780_480_800_000  # 2026-06-03T12:00+02:00

TYPED: list[tuple[str, list[str], str, dict[str, Any]]] = [
    ("test", ["kh=6 drops", "ph=7.4"], "hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 1.0, "ph": 7.4}),
    ("test", ["6 drops", "ph=7,4"], "hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 1.0, "ph": 7.4}),
    ("hand-test", ["kh_dkh=3", "ph=7.4"], "hand-test", {"kh_dkh": 3.0, "ph": 7.4}),
    ("hand-test", ["kh_dkh=2,5"], "hand-test", {"kh_dkh": 2.5}),
    ("test", ["kh=12 drops", "kh_step_dkh=0.5"], "hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 0.5}),
    ("test", ["gh=8 drops"], "hand-test", {"gh_dgh": 8.0, "gh_step_dgh": 1.0}),
    ("test", ["temperature=68F", "oxygen=8 mg/L"], "hand-test", {"temperature_c": 20.0, "oxygen_mg_l": 8.0}),
    ("test", ["ammonia=0.5 mg/L N"], "hand-test", {"tan_mg_l": 0.5}),
    ("test", ["ammonia=0.5 mg/L NH4"], "hand-test", {"tan_mg_l": 0.5 * 14.007 / 18.039}),
    ("test", ["tan=0.5 mg/L"], "hand-test", {"tan_mg_l": 0.5}),
    ("test", ["nitrite=0.1 mg/L N"], "hand-test", {"nitrite_mg_l": 0.1 * 46.005 / 14.007}),
    ("change", ["15%", "source_kh=1 dKH"], "water-change", {"share": 0.15, "source_kh_dkh": 1.0}),
    ("water-change", ["share=0.15", "source_kh_dkh=1.0"], "water-change", {"share": 0.15, "source_kh_dkh": 1.0}),
    ("change", ["300 gal"], "water-change", {"litres": 1135.6235352}),
    ("topup", ["20 mm", "source_ph=7.6"], "top-up", {"mm": 20.0, "source_ph": 7.6}),
    ("rain", ["0.8 in"], "rain", {"mm": 20.32}),
    ("dose", ["what=sodium bicarbonate", "grams=200"], "dose", {"what": "sodium bicarbonate", "grams": 200.0}),
    ("bicarbonate", ["amount=10 lb"], "dose", {"what": "sodium bicarbonate", "grams": 4535.9237}),
    ("bicarbonate", ["amount=1/4 cup"], "dose", {"what": "sodium bicarbonate", "millilitres": 59.147059125}),
    ("shell", ["amount=5 kg", "state=swapped"], "media", {"what": "shell", "kilograms": 5.0, "state": "swapped"}),
    ("feed", ["120 g/day", "protein=38%"], "feed", {"grams_a_day": 120.0, "protein_percent": 38.0}),
    ("feed", ["grams_a_day=0"], "feed", {"grams_a_day": 0.0}),
    ("feeding", ["stopped"], "feeding", {"state": "stopped"}),
    ("fish", ["11", "length=18 in"], "fish", {"number": 11, "length_cm": 45.72}),
    ("pond-cleaning", ["filter"], "pond-cleaning", {"what": "filter"}),
    ("aeration", ["off"], "aeration", {"state": "off"}),
    ("pump", ["off"], "aeration", {"what": "pump", "state": "off"}),
    ("ice", ["part"], "ice", {"state": "part"}),
    ("cup", ["before=6,4", "after=7.3"], "aerated-cup", {"before": 6.4, "after": 7.3}),
    ("salt", ["10 lb"], "salt", {"kilograms": 4.5359237}),
    ("dechlorinator", ["50 ml"], "dechlorinator", {"millilitres": 50.0}),
    ("algaecide", ["copper sulfate", "amount=10 g"], "algaecide", {"what": "copper sulfate", "grams": 10.0}),
    ("medicine", ["formalin", "amount=100 ml"], "medication", {"what": "formalin", "millilitres": 100.0}),
    ("note", ["a heron"], "note", {"note": "a heron"}),
    ("note", ["x = y"], "note", {"note": "x = y"}),
    ("note", ["note=a", "photo=IMG_1.jpg"], "note", {"note": "a", "photo": "IMG_1.jpg"}),
    ("note", ["a", "when=08:00"], "note", {"note": "a", "when": "2026-06-03T08:00:00+02:00"}),
    ("note", ["a", "when=yesterday 8:30"], "note", {"note": "a", "when": "2026-06-02T08:30:00+02:00"}),
    ("note", ["a", "when=2026-01-02T08:00"], "note", {"note": "a", "when": "2026-01-02T08:00:00+01:00"}),
    ("note", ["a", "when=2026-01-02T08:00Z"], "note", {"note": "a", "when": "2026-01-02T09:00:00+01:00"}),
    ("cleaning", ["probe=ph", "for=20m", "before=7.31", "after=7.38"], "cleaning",
     {"probe": "ph", "for": "20m", "before": 7.31, "after": 7.38}),
    ("cleaning", ["probe=ph", "before=7,31", "after=7,38"], "cleaning", {"probe": "ph", "before": 7.31, "after": 7.38}),
    ("test", ["kh=12 drops", "kh_step_dkh=0,5"], "hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 0.5}),
    ("buffer-check", ["probe=ph", "buffer_ph=7,02", "measured=-8,5"], "buffer-check",
     {"probe": "ph", "buffer_ph": 7.02, "measured": -8.5}),
    ("adjusted", ["probe=ph", "when=08:00"], "adjusted", {"probe": "ph", "when": "2026-06-03T08:00:00+02:00"}),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "words", "meant", "body"), TYPED)
def test_what_is_typed_becomes_an_act(kind: str, words: list[str], meant: str, body: dict[str, Any]) -> None:
    found, settled = settle(kind, pairs(kind, words), Habits(BERLIN, now=NOON))
    assert found == meant
    assert settled == pytest.approx(body)


def test_every_kind_of_the_pond_is_typed_here() -> None:
    assert {meant for _, _, meant, _ in TYPED} >= set(POND_KINDS)


def test_a_settled_act_settles_to_itself() -> None:
    for kind, words, _, _ in TYPED:
        settled = settle(kind, pairs(kind, words), Habits(BERLIN, now=NOON))
        assert settle(*settled) == settled or "when" in settled[1]
        assert read(*settle(*settled)) == read(*settled)


@pytest.mark.parametrize(
    ("kind", "words", "says"),
    [
        ("tset", ["6 drops"], "did you mean 'test'"),
        ("test", ["kh=6"], "hand-test: kh: found '6' without a unit"),
        ("test", ["khh=6 drops"], "unknown key 'khh'; did you mean 'kh'?"),
        ("test", ["kh_dkh=107 ppm"], "write it under 'kh', such as 6 drops"),
        ("test", ["kh_dkh=6/7"], "two figures or a fraction"),
        ("test", ["6 drops", "kh_dkh=5"], "said twice"),
        ("test", ["ammonia=0.5"], '"0.5 mg/L N" or "0.5 mg/L NH4"'),
        ("test", ["ammonia=0.5 mg/L NH4", "tan=0.5 mg/L"], "said twice"),
        ("test", ["ph=acid"], "a pH such as 7.4"),
        ("test", ["ph=72"], "less than or equal to 12"),
        ("test", ["kh=6 drops", "6"], "expected KEY=VALUE"),
        ("test", ["6", "drops"], "a figure with its unit is one word or in quotes"),
        ("test", ["kh=6 drops", "kh=7 drops"], "'kh' twice"),
        ("change", ["15"], "without a unit"),
        ("change", ["share=15"], "write 15% or 0.15"),
        ("change", ["150%"], "less than or equal to 1"),
        ("change", ["15%", "litres=100"], "either share (0 to 1) or litres"),
        ("change", ["5 kg"], "which is a mass"),
        ("rain", ["20"], "such as 20 mm or 0.8 in"),
        ("feed", ["120 g"], '"120 g/day"'),
        ("bicarbonate", ["amount=5 oz"], '"5 fl oz" (a volume) or "5 oz wt"'),
        ("fish", ["eleven"], "found 'eleven'"),
        ("note", ["a", "when=noon"], "such as 08:00"),
        ("note", ["a", "when=2026-03-29T02:30"], "change of the clock"),
        ("note", ["a", "when=25:00"], "found '2026-06-03T25:00'"),
        ("note", [], "'note' is missing"),
        ("ice", ["thick"], "found 'thick'"),
    ],
)
def test_what_is_refused_says_what_to_write(kind: str, words: list[str], says: str) -> None:
    with pytest.raises(InputError) as refused:
        settle(kind, pairs(kind, words), Habits(BERLIN, now=NOON))
    assert says in str(refused.value)
    assert len(str(refused.value)) < 500


@pytest.mark.parametrize("when", ["08:00", "yesterday 18:30"])
def test_a_time_without_its_date_is_of_no_day_while_none_is_known(when: str) -> None:
    with pytest.raises(InputError, match="expected a time with its date"):
        settle("note", {"note": "a", "when": when}, Habits(BERLIN))


def test_the_kits_drop_and_the_gallon_follow_the_configuration() -> None:
    habits = Habits(units="imperial", kits=LogbookSettings(kh_drop_dkh=0.5))
    assert settle("test", {"kh": "6 drops"}, habits)[1] == {"kh_dkh": 3.0, "kh_step_dkh": 0.5}
    with pytest.raises(InputError, match='"300 US gal" or "300 imp gal"'):
        settle("change", {"amount": "300 gal"}, habits)


def test_no_word_for_a_kind_is_a_kind() -> None:
    assert not WORDS.keys() & KINDS.keys()
    assert all(meant in KINDS for meant, _ in WORDS.values())


def test_fields_typed_under_one_key_have_different_measures() -> None:
    for kind, model in KINDS.items():
        typed = [(each.key, each.measure.name) for row in marks(model, Typed).values() for each in row]
        assert len(typed) == len(set(typed)), kind


@given(st.sampled_from(sorted(KINDS)), st.lists(st.text(max_size=30), max_size=4))
def test_any_words_are_an_act_or_are_refused(kind: str, words: list[str]) -> None:
    try:
        settled = settle(kind, pairs(kind, words))
    except InputError:
        return
    assert read(*settled)


@given(
    st.dictionaries(
        st.sampled_from(["kh_dkh", "ph", "kh", "when", "note", "tan_mg_l"]),
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats()
        | st.text(max_size=9)
        | st.lists(st.integers(), max_size=2),
    )
)
def test_any_body_from_a_file_is_an_act_or_is_refused(body: dict[str, Any]) -> None:
    try:
        settled = settle("hand-test", body)
    except InputError:
        return
    assert read(*settled)
