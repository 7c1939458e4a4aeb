"""Logbook: what was written down, and a form for each kind of entry."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, NamedTuple

from dawnline.duration import iso
from dawnline.errors import InputError
from dawnline.logbook.acts import KINDS, POND_KINDS
from dawnline.logbook.entry import Label, Typed, marks
from dawnline.logbook.settle import Habits, settle
from dawnline.logbook.words import meaning
from dawnline.page.ask import Ask, Go, Page, said
from dawnline.page.words import sentence
from dawnline.review.words import act_name, entry_line

SHOWN: Final = 50
_FIRST: Final = ("hand-test", "water-change", "dose", "feed", "rain", "note")
_UNSAID: Final = ("note", "when", "photo")
_CLOSING: Final = ("when", "note", "photo")
_WORDS: Final = {"when": "When", "note": "Note", "photo": "Photograph"}
_HINTS: Final = {"when": "now, where nothing stands; else 08:00, yesterday 18:30", "photo": "its name",
          "for": "20m or 2h"}  # fmt: skip


class Field(NamedTuple):
    """One input of a form."""

    key: str
    label: str
    hint: str
    choices: tuple[str, ...] = ()


def entries(ask: Ask) -> Page:
    """The newest entries, and the kinds there are."""
    settings = ask.doors.settings
    rows = []
    for act in ask.doors.entries(SHOWN):
        text = entry_line(act, settings.pond.units)
        rows.append({"time": iso(act.at, settings.pond.zone), "by": act.actor, "text": text})
    rest = [kind for kind in POND_KINDS if kind not in _FIRST]
    return Page("logbook.html", {"entries": rows, "often": _named(_FIRST), "seldom": _named(rest)})


def _named(kinds: Iterable[str]) -> list[tuple[str, str, str]]:
    return [(kind, act_name(kind), meaning(kind)) for kind in kinds]


def form(ask: Ask) -> Page:
    """The form of one kind."""
    return _form(ask, ask.query, "")


def add(ask: Ask) -> Page | Go:
    """Write an entry down; a refused one keeps what was typed."""
    kind, settings = _kind(ask), ask.doors.settings
    typed = {key: text for key, text in ask.form.items() if key != "token" and text}
    written = ask.doors.glance()
    now = ask.doors.now() if written is None or written.clock_set else None
    habits = Habits(settings.pond.zone, settings.pond.units, settings.logbook, now)
    try:
        kind, body = settle(kind, typed, habits)
        return said(ask.put(kind, body), "/logbook")
    except InputError as error:
        return _form(ask, typed, str(error))


def _form(ask: Ask, given: Any, trouble: str) -> Page:
    kind = _kind(ask)
    probes = tuple(probe.name for probe in ask.doors.settings.probes)
    shown = [each._replace(choices=probes) if each.key == "probe" else each for each in fields(kind)]
    data = {"kind": kind, "name": act_name(kind), "meaning": meaning(kind), "fields": shown}
    return Page("logbook_add.html", {**data, "given": given, "trouble": trouble}, 400 if trouble else 200)


def _kind(ask: Ask) -> str:
    kind = ask.path["kind"]
    if kind not in POND_KINDS:
        raise InputError(f"there is no kind of entry {kind!r}")
    return kind


def fields(kind: str) -> list[Field]:
    """The inputs of a kind: one for each thing that can be said, whatever its unit.

    >>> [field.key for field in fields("rain")]
    ['amount', 'when', 'note', 'photo']
    """
    model = KINDS[kind]
    labels, typed = marks(model, Label), marks(model, Typed)
    steps = {each.step for row in typed.values() for each in row if each.step}
    found: dict[str, Field] = {}
    for field, info in model.model_fields.items():
        if field in _UNSAID or field in steps:
            continue
        text = next((each.text for each in labels[field] if each.text), "")
        if typed[field]:
            key = typed[field][0].key
            known = [example for each in typed[field] if each.key == key for example in each.measure.examples]
            before = found.get(key) or Field(key, sentence(text) or _spoken(key), "")
            found[key] = before._replace(hint=" or ".join(dict.fromkeys(filter(None, [before.hint, *known]))))
        else:
            key = info.alias or field
            found[field] = Field(key, sentence(text) or _spoken(key), _HINTS.get(key, ""), _choices(info.annotation))
    order = _CLOSING if found else ("note", "when", "photo")
    closing = [Field(key, _WORDS[key], _HINTS.get(key, "")) for key in order if key in model.model_fields]
    return [*found.values(), *closing]


def _spoken(key: str) -> str:
    return key.replace("_", " ").capitalize()


def _choices(annotation: Any) -> tuple[str, ...]:
    inner = getattr(annotation, "__args__", ())
    found: list[str] = []
    for each in inner:
        found += [each] if isinstance(each, str) else _choices(each)
    return tuple(found)
