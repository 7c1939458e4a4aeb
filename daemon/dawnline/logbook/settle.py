"""From what a person types to an act: other words for a kind, and figures with their units.

`test kh="6 drops" ph=7,4` becomes `hand-test` with kh_dkh 6, kh_step_dkh 1 and ph 7.4. A figure may be typed with its
unit under the key that has none in its name, or as a bare number under the key that has one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any, Final, get_args, get_origin

from dawnline.duration import iso, parse_time
from dawnline.errors import InputError
from dawnline.logbook.acts import KINDS, read
from dawnline.logbook.entry import Entry, Typed, marks
from dawnline.logbook.settings import LogbookSettings
from dawnline.typed.measures import PH, SHARE
from dawnline.typed.quantity import Units, one_figure, parse, plain_number
from dawnline.typed.say import keys, nearest, short

# Other words for a kind, with what they say beside it.
WORDS: Final[dict[str, tuple[str, dict[str, str]]]] = {
    "test": ("hand-test", {}),
    "change": ("water-change", {}),
    "topup": ("top-up", {}),
    "buffer": ("dose", {}),
    "bicarbonate": ("dose", {"what": "sodium bicarbonate"}),
    "shell": ("media", {"what": "shell"}),
    "air": ("aeration", {"what": "air"}),
    "pump": ("aeration", {"what": "pump"}),
    "medicine": ("medication", {}),
    "cup": ("aerated-cup", {}),
}
_CLOCK: Final = re.compile(r"(?:(yesterday|today)\s+)?([0-9]{1,2}:[0-9]{2})")
_KEY: Final = re.compile(r"[a-z_]+")


@dataclass(frozen=True)
class Habits:
    """How this keeper types: the pond's zone, the size of a gallon, the kit's drops; `now` [ms] for "08:00"."""

    zone: tzinfo = UTC
    units: Units = "metric"
    kits: LogbookSettings = field(default_factory=LogbookSettings)
    now: int | None = None


def pairs(kind: str, words: Sequence[str]) -> dict[str, str]:
    """KEY=VALUE words; a first word without a key stands for the chief key of its kind. Raises InputError.

    >>> pairs("test", ["6 drops", "ph=7,4"])
    {'kh': '6 drops', 'ph': '7,4'}
    >>> pairs("bicarbonate", ["1/4 cup"])  # the word says what it is
    {'amount': '1/4 cup'}
    """
    meant, beside = WORDS.get(kind, (kind, {}))
    model = _model(meant)
    chief = "amount" if model.CHIEF in beside else model.CHIEF
    found: dict[str, str] = {}
    for place, word in enumerate(words):
        key, equals, text = word.partition("=")
        if place == 0 and chief and word and not (_KEY.fullmatch(key) and (equals or key in _keys(model))):
            key, text = chief, word
        elif not equals or not key:
            how = 'expected KEY=VALUE such as kh_dkh=3; a figure with its unit is one word or in quotes: "6 drops"'
            raise InputError(f"found {short(word)}, {how}")
        if key in found:
            raise InputError(f"found {short(key)} twice, expected each key once")
        found[key] = text
    return found


def settle(kind: str, typed: Mapping[str, Any], habits: Habits | None = None) -> tuple[str, dict[str, Any]]:
    """The kind and body of the act that somebody meant, checked, as plain JSON values. What is not a text stays.

    Raises InputError that names the key, what was found and what to write instead.

    >>> settle("test", {"kh": "6 drops", "ph": "7,4"})
    ('hand-test', {'kh_dkh': 6.0, 'kh_step_dkh': 1.0, 'ph': 7.4})
    """
    kind, beside = WORDS.get(kind, (kind, {}))
    model = _model(kind)
    settling = _Settling(model, {**beside, **typed}, habits or Habits())
    for key in settling.words:
        try:
            settling.take(key)
        except InputError as error:
            raise InputError(f"{kind}: {error}") from None
    return kind, _plain(read(kind, settling.body), settling.body)


def amend(
    kind: str, body: Mapping[str, Any], typed: Mapping[str, str], habits: Habits | None = None
) -> tuple[str, dict[str, Any]]:
    """An entry with what was typed in place of what it said of the same; an empty text takes a key out.

    Raises InputError as `settle`.

    >>> amend("hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 1.0, "ph": 7.4}, {"kh": "5 dKH", "ph": ""})
    ('hand-test', {'kh_dkh': 5.0})
    """
    fields = marks(_model(kind), Typed)
    gone = set(typed)
    for name, row in fields.items():
        if name in typed or any(each.key in typed for each in row):
            gone |= {name, *(each.step for each in row)}
    kept = {key: value for key, value in body.items() if key not in gone}
    said = {key: text for key, text in typed.items() if text.strip()}
    unknown = [key for key in typed if key not in _keys(_model(kind))]
    if unknown:
        raise InputError(f"{kind}: unknown key {short(unknown[0])}; {nearest(unknown[0], _keys(_model(kind)))}")
    return settle(kind, {**kept, **said}, habits)


class _Settling:
    """One entry as it is put together from the words of a person."""

    def __init__(self, model: type[Entry], words: Mapping[str, Any], habits: Habits) -> None:
        self.words, self.habits = words, habits
        self.typed = marks(model, Typed)
        self.known = keys(model)
        self.figures = {name for name, info in model.model_fields.items() if _figure(info.annotation)}
        self.body: dict[str, Any] = {}

    def take(self, key: str) -> None:
        """Take what was said under one key. Raises InputError."""
        value = self.words[key]
        choices = [(name, each) for name, row in self.typed.items() for each in row if each.key == key]
        if not choices and key not in self.known:
            spoken = [each.key for row in self.typed.values() for each in row]
            raise InputError(f"unknown key {short(key)}; {nearest(key, dict.fromkeys([*self.known, *spoken]))}")
        try:
            if not isinstance(value, str):
                self._put(key, value)
            elif key == "when":
                self._put(key, iso(_moment(value, self.habits), self.habits.zone))
            elif self.typed.get(key):
                self._put(key, _own(value, self.typed[key]))
            elif choices:
                self._with_unit(key, value, choices)
            else:
                self._put(key, plain_number(value) if key in self.figures else value)
        except InputError as error:
            raise InputError(f"{key}: {error}") from None

    def _put(self, key: str, value: Any) -> None:
        if key in self.body and self.body[key] != value:
            raise InputError(f"said twice, as {self.body[key]} and as {value}: write one of them")
        self.body[key] = value

    def _with_unit(self, key: str, text: str, choices: Sequence[tuple[str, Typed]]) -> None:
        """A figure with its unit goes to the field of its measure."""
        drop = self._drop(choices[0][1])
        found = parse(text, *(each.measure for _, each in choices), drop=drop, home=self.habits.units)
        name, chosen = next((name, each) for name, each in choices if each.measure is found.measure)
        self._put(name, float(found.exact / chosen.per))
        if found.step is not None and chosen.step and chosen.step not in self.words:
            self._put(chosen.step, found.step)

    def _drop(self, typed: Typed) -> float:
        """What a drop of the kit stands for: as this entry says, else as the configuration does."""
        said = self.words.get(typed.step) if typed.step else 1.0
        if said is None:
            return self.habits.kits.kh_drop_dkh if typed.key == "kh" else self.habits.kits.gh_drop_dgh
        return plain_number(said) if isinstance(said, str) else float(said)


def _model(kind: str) -> type[Entry]:
    model = KINDS.get(kind)
    if model is None:
        raise InputError(f"unknown act {short(kind)}; {nearest(kind, [*KINDS, *WORDS])}")
    return model


def _figure(annotation: Any) -> bool:
    """Whether a field takes one number."""
    inner = () if get_origin(annotation) is tuple else get_args(annotation)
    return annotation is float or any(_figure(each) for each in inner)


def _keys(model: type[Entry]) -> set[str]:
    return {*keys(model), *(each.key for row in marks(model, Typed).values() for each in row)}


def _own(text: str, typed: Sequence[Typed]) -> float:
    """A bare number under a key that names its unit; pH and a share also in the other forms they are typed in."""
    measures = [each.measure for each in typed]
    if PH in measures:
        return parse(text, PH).value
    if SHARE in measures and text.rstrip().endswith("%"):
        return parse(text, SHARE).value
    one_figure(text, measures)
    try:
        found = plain_number(text)
    except InputError as error:
        if not any(character.isalpha() for character in text):
            raise
        instead = f"with its unit write it under {typed[0].key!r}, such as {measures[0].example}"
        raise InputError(f"{error}; this key names the unit: {instead}") from None
    if SHARE in measures and found > 1.0:
        raise InputError(f"found {short(text)}, a share of 1 at most: write {text.strip()}% or {found / 100.0:g}")
    return found


def _moment(text: str, habits: Habits) -> int:
    """Unix ms of "2026-06-03T08:00", or of "08:00" and "yesterday 18:30" where the present is known."""
    clock = _CLOCK.fullmatch(text.strip())
    if clock is not None and habits.now is not None:
        day = datetime.fromtimestamp(habits.now / 1000, habits.zone) - timedelta(days=clock[1] == "yesterday")
        text = f"{day.date().isoformat()}T{clock[2]:0>5}"
    elif clock is not None:
        raise InputError(
            f"found {short(text)}, expected a time with its date, such as 2026-06-03T08:00: which day it is, nobody "
            "knows here (while the clock is not set, for instance)"
        )
    try:
        return parse_time(text, habits.zone)
    except (ValueError, OverflowError) as error:
        if "change of the clock" in str(error):
            raise InputError(str(error)) from None
        expected = "expected a time such as 08:00, yesterday 18:30 or 2026-06-03T08:00"
        raise InputError(f"found {short(text)}, {expected}") from None


def _plain(entry: Entry, body: Mapping[str, Any]) -> dict[str, Any]:
    """The body with numbers where this kind of entry has some."""
    numbers = {
        field.alias or name: value
        for name, field in type(entry).model_fields.items()
        if isinstance(value := getattr(entry, name), float | int) and (field.alias or name) not in ("for", "when")
    }
    return {key: numbers.get(key, value) for key, value in body.items()}
