"""The texts a keeper says otherwise: laid over the packed ones, and refused in words where they cannot be."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dawnline.alarms.catalogue import TEXTS
from dawnline.alarms.text import body, subject
from dawnline.catalogue_file import shipped, with_texts
from dawnline.errors import SettingsError
from dawnline.event import Transition
from dawnline.settings import load

CONFIG = Path(__file__).parents[2] / "config"
SMALLEST = Path(__file__).parents[1] / "settings" / "good" / "smallest.toml"
EVENT = Transition(7, 1_780_455_000_000, 1_780_454_400_000, "ph-low", "raised", "high", "ph", 6.31, "pH 6.31")


def written(folder: Path, text: str) -> Path:
    path = folder / "texts.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_said_otherwise_holds_and_the_rest_stays(tmp_path: Path) -> None:
    mine = with_texts(
        written(
            tmp_path,
            '[alarm.ph-low]\ntitle = "pH zu tief"\nsteps = ["{look}", "Ruf an."]\n'
            '[sentences]\nlook = "Schau nach den Fischen."\n[words]\nsteps = "Zuerst:"\nhigh = "hoch"\n',
        )
    )
    assert mine["ph-low"].title == "pH zu tief"
    assert mine["ph-low"].steps == ("Schau nach den Fischen.", "Ruf an.")
    assert mine["ph-crash"].steps[0] == "Schau nach den Fischen."  # the shared sentence, wherever it stands
    assert mine["ph-low"].cautions == shipped()["ph-low"].cautions
    assert (mine["ph-low"].priority, mine["ph-low"].on_delay) == ("high", 600_000)
    assert list(mine) == list(shipped())
    assert subject(mine, EVENT, "Heron Lane") == "Heron Lane: pH zu tief (hoch priority)"
    assert "\nZuerst:\n  1. Schau nach den Fischen.\n" in body(mine, EVENT, load(SMALLEST).pond.zone)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[alarm.ph-lwo]\ntitle = "x"', ["alarm.ph-lwo: found an unknown alarm", "did you mean ph-low?"]),
        ('[alarm.ph-low]\ntitel = "x"', ["alarm.ph-low.titel: found an unknown key", "did you mean title?"]),
        ('[alarm.ph-low]\npriority = "low"', ["alarm.ph-low.priority: found what is no text", "[alarms.ph-low]"]),
        ('[alarm.ph-low]\non_delay = "1h"', ["alarm.ph-low.on_delay: found what is no text", "[alarms.ph-low]"]),
        ('[alarm.ph-low]\nsteps = ["{lok}", "x"]', ['alarm.ph-low.steps: found "{lok}"', "did you mean look?"]),
        ('[alarm.ph-low]\nsteps = "look"', ["alarm.ph-low.steps: ", "a list in square brackets"]),
        ('[alarm.no-data.of.rian]\nmeaning = "x"', ["alarm.no-data.of.rian: found an unknown quantity", "mean rain?"]),
        ('[alarm.no-data.of.rain]\nmeanin = "x"', ["alarm.no-data.of.rain.meanin: "]),
        ('[alarm.no-data.of.rain]\nmeaning = "{lok}"', ['alarm.no-data.of.rain.meaning: found "{lok}"', "mean look?"]),
        ("[alarm.ph-low]\nsteps = []", ["alarm.ph-low.steps: ", "at least 2 items"]),
        ('[alarm.ph-low]\ntitle = ""', ["alarm.ph-low.title: ", "at least 1 character"]),
        ('[alarm.ph-low]\nmeaning = """one\ntwo"""', ["alarm.ph-low.meaning: found a line break"]),
        ('[sentences]\nchange_helps = "x"', ['sentences.change_helps: found "x"', "expected {kh} in it"]),
        ('[words]\nstep = "x"', ["words.step: found an unknown word", "did you mean steps?"]),
        ('[words]\nsince = "Seit {since}"', ['words.since: found "Seit {since}"', "expected {at}, {since} in it"]),
        ('[words]\nsteps = "Zuerst {"', ["words.steps: ", "expected no braces in it"]),
        ('[words]\nsubject = "{pond.name}: {title} {priority}"', ["words.subject: ", "{pond}, {priority}, {title}"]),
        ('[calendar]\ndays = ["Mo"]', ["calendar.days: ", "at least 7 items"]),
        ('[alarms.ph-low]\ntitle = "x"', ["alarms: found an unknown section", "did you mean alarm?"]),
        ("words = 3", ["words: "]),
        ("[alarm", ["line 1, column 7: not TOML"]),
    ],
)
def test_what_cannot_be_said_is_refused_with_its_place_and_remedy(tmp_path: Path, text: str, said: list[str]) -> None:
    path = written(tmp_path, text + "\n")
    with pytest.raises(SettingsError) as caught:
        with_texts(path)
    lines = str(caught.value).splitlines()
    assert len(lines) == 1
    assert lines[0].startswith(f"{path}: {said[0]}")
    assert all(part in lines[0] for part in said)


@pytest.mark.parametrize("content", [b"\xff\xfe", b"a = " + b"[" * 5000, b"#" * (1 << 20) + b"\n\n"], ids=len)
def test_what_is_no_text_at_all_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "texts.toml"
    path.write_bytes(content)
    with pytest.raises(SettingsError, match="expected"):
        with_texts(path)


def test_the_configuration_names_the_file(tmp_path: Path) -> None:
    written(tmp_path, '[alarm.ph-low]\ntitle = "pH zu tief"\n')
    config = tmp_path / "dawnline.toml"
    config.write_text(SMALLEST.read_text(encoding="utf-8") + '\n[texts]\nfile = "texts.toml"\n', encoding="utf-8")
    assert load(config).catalogue["ph-low"].title == "pH zu tief"
    assert load(SMALLEST).catalogue["ph-low"].title == "pH is low"


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    config = tmp_path / "dawnline.toml"
    config.write_text(SMALLEST.read_text(encoding="utf-8") + '\n[texts]\nfile = "gone.toml"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"gone\.toml: found no such file"):
        load(config)


@pytest.mark.parametrize("name", shipped())
def test_every_alarm_is_rationalised(name: str) -> None:
    """Cause, consequence, time to act and a response, each in whole sentences."""
    alarm = shipped()[name]
    for text in (alarm.meaning, alarm.cause, alarm.consequence, alarm.time, alarm.sure, *alarm.steps, *alarm.cautions):
        assert text[0].isupper() or text[0] == "`"
        assert text.endswith((".", "?"))
        assert "{" not in text.replace("{probe}", "")


@pytest.mark.parametrize("path", sorted(CONFIG.glob("texts.*.toml")), ids=lambda path: path.name)
def test_a_translation_we_ship_is_complete(path: Path) -> None:
    """Nothing of it is left in English, and its subjects fit a lock screen."""
    theirs, ours = with_texts(path), shipped()
    for name, alarm in theirs.items():
        for key in TEXTS:
            said, english = getattr(alarm, key), getattr(ours[name], key)
            said, english = ((said,), (english,)) if isinstance(said, str) else (said, english)
            assert len(said) == len(english), (name, key)
            assert not {each for each in said if each} & set(english), (name, key)
        assert len(f"Heron Lane: {alarm.title} (Dringlichkeit mittel)") <= 78
    same = {word: text for word, text in theirs.words.items() if text == ours.words[word]}
    assert {word for word, text in same.items() if re.search("[a-z]", re.sub(r"{[a-z]+}", "", text))} == set()
    assert theirs.days != ours.days


@pytest.mark.parametrize(
    ("kh", "said"), [("5.0", "helps, your source water has a KH of 5 dKH"), ("1.5", "brings little")]
)
def test_whether_a_water_change_helps_depends_on_the_source_water(tmp_path: Path, kh: str, said: str) -> None:
    config = tmp_path / "dawnline.toml"
    pond = SMALLEST.read_text(encoding="utf-8").replace("[pond]", f"[pond]\nsource_kh_dkh = {kh}")
    config.write_text(pond, encoding="utf-8")
    known = load(config).catalogue
    for name in ("ph-low", "ph-crash", "sudden-drop"):
        assert said in known[name].steps[-1]
        assert "only where the new water has the KH" in shipped()[name].steps[-1]
    assert known["no-data"] == shipped()["no-data"]


def test_a_probe_that_is_no_ph_probe_is_spoken_of_as_what_it_is() -> None:
    for texts in (shipped(), with_texts(CONFIG / "texts.de.toml")):
        ours = texts.with_pond(None, {"water": "temperature", "rain": "rain", "ph": "ph"})
        alarm = ours["probe-suspect"]
        assert ours.about(alarm, "ph") == ours.about(alarm, None) == alarm
        for probe in ("water", "rain"):
            said = ours.about(alarm, probe)
            assert (said.name, said.title, said.priority) == (alarm.name, alarm.title, alarm.priority)
            assert not any("pH" in text for text in (said.meaning, said.sure, said.cause, *said.steps, *said.cautions))


def test_a_translation_says_the_same_of_the_same_quantities() -> None:
    theirs, ours = with_texts(CONFIG / "texts.de.toml"), shipped()
    for quantity in ("temperature", "dissolved_oxygen", "rain"):
        probes = {"it": quantity}
        german, english = (
            texts.with_pond(None, probes).about(texts["probe-suspect"], "it") for texts in (theirs, ours)
        )
        assert len(german.steps) == len(english.steps)
        assert all(getattr(german, key) != getattr(english, key) for key in TEXTS if key != "term")
