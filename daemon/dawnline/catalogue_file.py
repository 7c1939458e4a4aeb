"""Brings the catalogue of alarms: the one packed with the program, and over it the texts of the keeper's own file.

The keeper's file, named in `[texts]`, has the same tables and only those texts that differ. What it may not say, and
what it names that does not exist, is said all at once, as for the configuration itself.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from string import Formatter
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from dawnline.alarms.catalogue import TEXTS, AlarmEntry, AlarmTexts, Catalogue, CatalogueFile, sentence_in
from dawnline.errors import SettingsError
from dawnline.quantity import QUANTITIES
from dawnline.settings_errors import Fault, explain, nearest, place_of, strangers, unfit_values
from dawnline.toml_file import read_toml

_NUMBERS = ("priority", "on_delay", "off_delay", "deadband")  # of an alarm, set in the configuration


class TextSettings(BaseModel):
    """`[texts]`: a file that says the alarms' texts otherwise, such as in another language; relative to this file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    file: str


@cache
def shipped() -> Catalogue:
    """The catalogue as it is packed with the program."""
    return Catalogue(CatalogueFile.model_validate(_packed()))


def with_texts(path: Path) -> Catalogue:
    """The catalogue with the texts of the file at `path` over it. Raises SettingsError with every fault in it."""
    data = read_toml(path, "texts of alarms", "texts of alarms there")
    faults = unfit_values(data)
    if not faults:
        faults = list(_strangers(data))
    if not faults:
        try:
            file = CatalogueFile.model_validate(_over(_packed(), data))
        except ValidationError as error:
            faults = explain(error.errors(), CatalogueFile)
        else:
            faults = [*_unknown_sentences(file), *_braces(file)]
            if not faults:
                return Catalogue(file)
    raise SettingsError("\n".join(f"{path}: {fault.place}: {fault.text}" for fault in faults))


def _packed() -> dict[str, Any]:
    return tomllib.loads(files("dawnline.alarms").joinpath("catalogue.toml").read_text(encoding="utf-8"))


def _over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """`below` with what `above` says in its place; tables are laid over one another, lists are replaced."""
    merged = dict(below)
    for key, value in above.items():
        inner = merged.get(key)
        merged[key] = _over(inner, value) if isinstance(inner, dict) and isinstance(value, dict) else value
    return merged


def _strangers(data: Mapping[str, Any]) -> Iterator[Fault]:
    """Alarms, words and keys that do not exist, and numbers that belong into the configuration."""
    known = _packed()
    yield from strangers("section", (), data, list(known))
    for table, what in (("alarm", "alarm"), ("words", "word")):
        yield from strangers(what, (table,), _table(data, table), list(known[table]))
    for name in _table(data, "alarm"):
        entry = _table(data["alarm"], name)
        for key in [key for key in entry if key in _NUMBERS]:
            expected = f"expected texts only: set it in the configuration, under [alarms.{name}]"
            yield Fault(place_of(("alarm", name, key)), f"found what is no text, {expected}")
        yield from strangers("key", ("alarm", name), [key for key in entry if key not in (*_NUMBERS, "of")], TEXTS)
        yield from strangers("quantity", ("alarm", name, "of"), _table(entry, "of"), list(QUANTITIES))


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    """A table of what was read; empty where it is none."""
    found = data.get(name)
    return found if isinstance(found, dict) else {}


def _unknown_sentences(file: CatalogueFile) -> Iterator[Fault]:
    known = list(file.sentences)
    entries: list[tuple[tuple[str, ...], AlarmEntry | AlarmTexts]] = []
    for name, entry in file.alarm.items():
        entries.append(((name,), entry))
        entries += [((name, "of", quantity), said) for quantity, said in entry.of.items()]
    for names, texts in entries:
        for key in TEXTS:
            value = getattr(texts, key, None) or ()
            for text in (value,) if isinstance(value, str) else value:
                said = sentence_in(text)
                if said is not None and said not in known:
                    expected = f"expected one of [sentences]: {nearest(said, known)}"
                    yield Fault(place_of(("alarm", *names, key)), f'found "{text}", {expected}')


def _braces(file: CatalogueFile) -> Iterator[Fault]:
    """What is filled in stands in each word as in the packed ones: no more, and no less."""
    packed = _packed()
    filled = [name for name, text in packed["sentences"].items() if _fields(text)]
    for table, names in (("words", list(packed["words"])), ("sentences", filled)):
        for name in names:
            said, wanted = getattr(file, table)[name], _fields(packed[table][name]) or set()
            if _fields(said) != wanted:
                braces = ", ".join(f"{{{field}}}" for field in sorted(wanted)) or "no braces"
                yield Fault(place_of((table, name)), f'found "{said}", expected {braces} in it')


def _fields(text: str) -> set[str] | None:
    """What stands in braces; None where the braces are not in pairs or hold more than a name."""
    try:
        parts = [(name, form, turned) for _, name, form, turned in Formatter().parse(text) if name is not None]
    except ValueError:
        return None
    return {name for name, *_ in parts} if not any(form or turned for _, form, turned in parts) else None
