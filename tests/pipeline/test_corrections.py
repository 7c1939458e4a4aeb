"""A correction leaves the memory as if the entry had been right from the start."""

from __future__ import annotations

from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, iso
from dawnline.event import Act, Verdict
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

POND = PondSettings(name="p", latitude=48, longitude=8, timezone="Europe/Berlin", volume_litres=14_000, surface_m2=12.0)
BEGIN = 1_780_272_000_000
WRONG: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {  # an entry as written, and as it should have been
    "hand-test": ({"kh_dkh": 13, "ph": 4.7, "tan_mg_l": 2.0}, {"kh_dkh": 3, "ph": 7.1, "tan_mg_l": 0.2}),
    "water-change": ({"share": 0.9, "source_kh_dkh": 1}, {"share": 0.09, "source_kh_dkh": 1}),
    "top-up": ({"litres": 4000, "source_kh_dkh": 4}, {"litres": 400, "source_kh_dkh": 4}),
    "rain": ({"mm": 200}, {"mm": 20}),
    "dose": ({"what": "baking soda", "grams": 2000}, {"what": "baking soda", "grams": 200}),
    "media": ({"what": "shell", "kilograms": 5}, {"what": "gravel", "kilograms": 5}),
    "feed": ({"grams_a_day": 10}, {"grams_a_day": 100}),
    "feeding": ({"state": "stopped"}, {"state": "begun"}),
    "aeration": ({"state": "off"}, {"state": "more"}),
    "algaecide": ({"what": "x"}, {"what": "y"}),
}


def pipe() -> Pipeline:
    made = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    for n in range(30):
        made.step(Sample("ph", BEGIN + n * 60_000, 7.0 + 0.003 * (n % 3), BEGIN + n * 60_000))
    made.act(Act("f", BEGIN + 1_750_000, "feed", {"grams_a_day": 50}), [])
    made.act(Act("t", BEGIN + 1_760_000, "hand-test", {"tan_mg_l": 1.0}), [])
    return made


def act(made: Pipeline, name: str, kind: str, body: dict[str, Any], at: int = 0) -> Verdict:
    effects = made.step(Act(name, at or BEGIN + 1_800_000, kind, body))
    return next(each for each in effects if isinstance(each, Verdict))


def told(made: Pipeline) -> dict[str, Any]:
    """What the memory holds of what people said."""
    line, watch = made.buffer.lines["ph"], made.ph[0]
    return {
        "diary": sorted((at, kind, a, b) for at, kind, a, b, _ in line.diary.entries),
        "fed": (line.fed, line.diary.feed_g_day()),
        "hand": list(watch.doubt.hand.rows),
        "tests": [tuple(row) for row in watch.electrode.history.hand_tests],
        "ammonia": (made.ammonia.total, made.ammonia.tested_at, made.ammonia.thinned),
    }


@pytest.mark.parametrize("kind", WRONG)
def test_a_corrected_entry_is_as_if_it_had_been_right(kind: str) -> None:
    wrong, right = WRONG[kind]
    once, corrected = pipe(), pipe()
    act(once, "x", kind, right)
    act(corrected, "x", kind, wrong)
    assert told(corrected) != told(once) or kind in {"media", "aeration", "algaecide"}
    body = {"entry": "x", "kind": kind, "at": iso(BEGIN + 1_800_000), "body": right}
    assert act(corrected, "y", "correct", body, BEGIN + 2_400_000).accepted
    assert told(corrected) == told(once)


@pytest.mark.parametrize("kind", WRONG)
def test_a_withdrawn_entry_is_as_if_it_had_never_been(kind: str) -> None:
    never, withdrawn = pipe(), pipe()
    act(withdrawn, "x", kind, WRONG[kind][0])
    assert act(withdrawn, "y", "withdraw", {"entry": "x", "at": BEGIN + 1_800_000}, BEGIN + 2_400_000).accepted
    after = told(withdrawn)
    if kind == "hand-test":  # the test before it is not remembered: it is unknown, and says so
        assert after.pop("ammonia")[0] is None
        assert "test again" in withdrawn.ammonia.text
        assert after == {key: value for key, value in told(never).items() if key != "ammonia"}
    else:
        assert after == told(never)


def test_a_correction_survives_saving() -> None:
    made, again = pipe(), pipe()
    act(made, "x", "rain", {"mm": 200})
    again.restore(made.save())
    for each in (made, again):
        act(each, "y", "withdraw", {"entry": "x", "at": 5}, BEGIN + 2_400_000)
    assert again.save() == made.save()


def test_an_entry_about_an_earlier_time_enters_there_and_explains_nothing_now() -> None:
    made = pipe()
    when = iso(BEGIN - DAY_MS)
    effects = made.step(Act("x", BEGIN + 1_800_000, "water-change", {"share": 0.5, "source_kh_dkh": 2, "when": when}))
    assert [type(each).__name__ for each in effects if not isinstance(each, Verdict)] == []
    assert made.buffer.lines["ph"].diary.entries[-1][:2] == (BEGIN - DAY_MS, "diluted")
    assert made.ammonia.total == 1.0  # the test came later


def test_an_old_test_by_hand_is_not_held_against_the_probe_of_now() -> None:
    made = pipe()
    act(made, "x", "hand-test", {"ph": 9.0, "when": iso(BEGIN - HOUR_MS)})
    assert not made.ph[0].doubt.hand.rows
    act(made, "y", "hand-test", {"ph": 9.0, "when": iso(BEGIN + 1_500_000)}, BEGIN + 1_810_000)
    assert made.ph[0].doubt.hand.rows


def test_a_medication_is_answered_with_the_water_as_it_is() -> None:
    made = pipe()
    verdict = act(made, "x", "medication", {"what": "copper"})
    assert "The water now: pH 7.0, KH unknown: test it first." in verdict.text
    act(made, "y", "hand-test", {"kh_dkh": 2}, BEGIN + 1_810_000)
    verdict = act(made, "z", "medication", {"what": "copper"}, BEGIN + 1_810_000 + 3 * HOUR_MS)
    assert "The water now: KH 2 dKH by a test 3 h ago." in verdict.text


def test_a_time_that_has_not_come_is_refused() -> None:
    verdict = act(pipe(), "x", "rain", {"mm": 3, "when": iso(BEGIN + DAY_MS)})
    assert not verdict.accepted
    assert "has not come yet" in verdict.text


def test_feeding_begun_again_is_with_as_much_as_before() -> None:
    made = pipe()
    line = made.buffer.lines["ph"]
    act(made, "x", "feeding", {"state": "stopped"})
    assert not line.fed
    act(made, "y", "feeding", {"state": "begun"}, BEGIN + 1_900_000)
    assert line.fed
    assert line.diary.feed_g_day() == [50, 0, 50]


def test_feed_is_remembered_when_the_diary_is_full() -> None:
    made = pipe()
    line = made.buffer.lines["ph"]
    for n in range(250):
        act(made, f"r{n}", "rain", {"mm": 1}, BEGIN + 2_000_000 + n)
    assert line.diary.feed_g_day() == [50]
    assert line.fed


def test_what_is_topped_up_adds_the_alkalinity_of_the_new_water() -> None:
    made = pipe()
    act(made, "x", "top-up", {"litres": 1400, "source_kh_dkh": 5.6})
    _at, kind, added, *_ = made.buffer.lines["ph"].diary.entries[-1]
    assert (kind, round(added, 3)) == ("added", 0.2)
    act(made, "y", "top-up", {"mm": 1400 / 12.0, "source_kh_dkh": 5.6}, BEGIN + 1_900_000)
    assert made.buffer.lines["ph"].diary.entries[-1][2] == pytest.approx(added)


def test_a_cup_of_baking_soda_is_known_by_its_weight() -> None:
    made = pipe()
    act(made, "x", "dose", {"what": "baking soda", "millilitres": 236.6})
    assert made.buffer.lines["ph"].diary.entries[-1][2] == pytest.approx(220.8 * 1000 / 84.007 / 14_000, rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "body", "says"),
    [
        ("aerated-cup", {"before": 6.4, "after": 7.4}, "it was CO2"),
        ("aerated-cup", {"before": 6.4, "after": 6.5}, "the buffer is gone"),
        ("medication", {"what": "copper sulphate"}, "soft, acid water"),
        ("medication", {"what": "Formalin"}, "never together with permanganate"),
        ("medication", {"what": "Chloramine T"}, "below pH 6.5"),
        ("medication", {"what": "snake oil"}, "look for what the label says"),
        ("algaecide", {"what": "copper"}, "second and third night"),
        ("hand-test", {"kh_dkh": 6, "kh_step_dkh": 1}, "KH 6 dKH (5 to 6 by drops)"),
    ],
)
def test_the_answer_says_what_was_understood_and_what_to_mind(kind: str, body: dict[str, Any], says: str) -> None:
    verdict = act(pipe(), "x", kind, body)
    assert verdict.accepted
    assert says in verdict.text
