"""Faults of a configuration in words: the place, what was found, what is expected, the nearest name."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from dawnline.duration import beyond_bound

# What stands there may be a secret written by mistake.
_PRIVATE = {"password", "token", "secret", "addresses", "url", "passphrase", "guest_passphrase", "link_key"}
_SHOWN = 60  # characters of a found value
_WORDS = {
    "string_type": "a text in quotes",
    "float_parsing": "a number without quotes",
    "int_parsing": "a whole number without quotes",
    "bool_parsing": "true or false, without quotes",
    "float_type": "a number without quotes",
    "int_type": "a whole number without quotes",
    "int_from_float": "a whole number",
    "bool_type": "true or false, without quotes",
    "tuple_type": "a list in square brackets",
    "model_type": "a section of its own",
    "dict_type": "a section of its own",
}
_MISSING: dict[Any, str] = {
    str: "a text in quotes",
    Path: "a path in quotes",
    float: "a number",
    int: "a whole number",
    tuple[str, ...]: "a list of texts in quotes",
}
_SEVERAL = {"probes", "people", "buffers"}  # sections in double brackets
_RULE = re.compile(r"^(Input should be|\w+ should have) |after validation, ")  # of pydantic's own sentences
_PATTERNS = {
    r"^[0-9+ ()./-]*$": "a telephone number: digits, spaces and + ( ) . / -",
    r"^[^/\x00-\x1f]+$": "a name in one line, without a slash",
    r"^[^\s/@]+$": 'a host alone, such as "broker.local"',
    r"^[a-z][a-z0-9_-]{0,31}$": "a small letter, then up to 31 small letters, digits, hyphens or underscores",
}


class Fault(NamedTuple):
    """One fault: `place` is the key, such as "probes[1].topic"."""

    place: str
    text: str


def explain(errors: Sequence[ErrorDetails], model: type[BaseModel]) -> list[Fault]:
    """One fault for each error of `model`, in the order of the model."""
    places = [details["loc"] for details in errors]
    return [
        _explain(details, model)
        for details in errors
        # A list whose items are all wrong counts as empty: the items' own faults say it better.
        if not (details["type"] == "too_short" and any(_under(details["loc"], place) for place in places))
    ]


def _under(outer: tuple[int | str, ...], inner: tuple[int | str, ...]) -> bool:
    return len(inner) > len(outer) and inner[: len(outer)] == outer


def place_of(location: Sequence[int | str]) -> str:
    """A key path as a keeper would write it.

    >>> place_of(("probes", 1, "topic"))
    'probes[1].topic'
    """
    place = ""
    for part in location:
        if isinstance(part, int):
            place += f"[{part}]"
        else:
            bare = part if re.fullmatch(r"[A-Za-z0-9_-]+", part) else json.dumps(part, ensure_ascii=False)
            place += f".{bare}" if place else bare
    return place


def nearest(name: str, known: Sequence[str]) -> str:
    """The remedy for an unknown name: the nearest known one, or all of them.

    >>> nearest("ph_lwo", ["ph_low", "ph_high"])
    'did you mean ph_low?'
    """
    close = get_close_matches(name.lower().replace(" ", "_"), known, n=1)
    return f"did you mean {close[0]}?" if close else "known here: " + ", ".join(known)


def strangers(what: str, location: Sequence[int | str], names: Iterable[str], known: Sequence[str]) -> list[Fault]:
    """One fault for each of `names` under `location` that is none of the `known`; `what` they are, as "alarm"."""
    return [
        Fault(place_of((*location, name)), f"found an unknown {what}, expected a known one: {nearest(name, known)}")
        for name in names
        if name not in known
    ]


def unfit_values(data: object, location: tuple[int | str, ...] = ()) -> list[Fault]:
    """What TOML can write and no key here can mean: dates, infinities, control characters."""
    return list(_unfit(data, location))


def _unfit(value: object, location: tuple[int | str, ...]) -> Iterator[Fault]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _unfit(inner, (*location, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _unfit(inner, (*location, index))
    elif isinstance(value, str):
        if any(not c.isprintable() and c != "\u00ad" for c in value):
            yield Fault(place_of(location), "found a line break or a control character, expected one line of text")
    elif isinstance(value, float):
        if not math.isfinite(value):
            yield Fault(place_of(location), f"found {value}, expected a finite number")
    elif not isinstance(value, int):
        yield Fault(place_of(location), "found a date or a time, expected a number, or a text in quotes")


def _explain(details: ErrorDetails, model: type[BaseModel]) -> Fault:
    location = details["loc"]
    place, kind = place_of(location) or "the file", details["type"]
    if kind == "missing":
        return Fault(place, f"found nothing, expected {_expected_at(model, location)}")
    if kind == "extra_forbidden":
        [fault] = strangers(
            "key", location[:-1], [str(location[-1])], list(_model_at(model, location[:-1]).model_fields)
        )
        return fault
    expected = _expected(details, str(location[-1]) if location else "")
    return Fault(place, f"found {_found(details['input'], location)}, {expected}")


def _expected(details: ErrorDetails, name: str) -> str:
    kind, context = details["type"], details.get("ctx", {})
    if kind == "value_error":
        text = str(context["error"])
        return text if "expected " in text else f"which cannot be: {text}"
    if kind == "literal_error":
        known = re.findall(r"'([^']*)'", context["expected"])
        listed = ", ".join(json.dumps(k) for k in known)
        close = get_close_matches(str(details["input"]).lower(), known, n=1)
        return f"expected one of {listed}" + (f'; did you mean "{close[0]}"?' if close else "")
    if kind == "string_pattern_mismatch":
        return "expected " + _PATTERNS.get(context["pattern"], f"a text of the form {context['pattern']}")
    plain = beyond_bound(kind, context, details["input"]) or _WORDS.get(kind) or _RULE.sub("", details["msg"])
    return "expected " + (_brackets(details, name) or plain)


def _brackets(details: ErrorDetails, name: str) -> str | None:
    """Single brackets where double ones belong, or the other way round."""
    if details["type"] == "tuple_type" and name in _SEVERAL:
        return f"[[{name}]], in double brackets, once for each"
    if details["type"] == "model_type" and isinstance(details["input"], list):
        return f"one section, [{name}], in single brackets"
    return None


def _found(value: object, location: Sequence[int | str]) -> str:
    if _PRIVATE.intersection(map(str, location)):
        return _hidden(value)
    if isinstance(value, dict):
        shown = {k: v for k, v in value.items() if k not in _PRIVATE and not isinstance(v, dict | list)}
        return ", ".join(f"{k} = {_cut(v)}" for k, v in shown.items()) or "a section without content"
    if isinstance(value, list) and any(isinstance(item, dict) for item in value):
        return "a list of sections"
    return _cut(value)


def _hidden(value: object) -> str:
    """What may be a secret, or an address with a token in it: its scheme at most."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_hidden, value))}]"
    if not isinstance(value, str) or not value:
        return _cut(value)
    scheme = re.match(r"[a-z][a-z0-9+.-]{0,20}:", value)
    return f'"{scheme[0]}..."' if scheme else "a text not shown here"


def _cut(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    login, at, host = text.rpartition("@")
    if at and ":" in login:  # a user's name and password before a host
        text = f'"...@{host}'
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."


def _model_at(model: type[BaseModel], location: Sequence[int | str]) -> type[BaseModel]:
    """The model of the section at `location`: list positions and names the keeper chose are passed over."""
    for part in location:
        if part in model.model_fields:
            model = next(_models_in(model.model_fields[str(part)].annotation), model)
    return model


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _expected_at(model: type[BaseModel], location: Sequence[int | str]) -> str:
    """What a missing key should hold."""
    inner, name = _model_at(model, location[:-1]), location[-1]
    if isinstance(name, int) or name not in inner.model_fields:
        return "one value more"
    annotation = inner.model_fields[name].annotation
    if get_origin(annotation) is Literal:
        return "one of " + ", ".join(json.dumps(k) for k in get_args(annotation))
    if next(_models_in(annotation), None):
        return f"a section [[{name}]]" if name in _SEVERAL else f"a section [{name}]"
    return _MISSING.get(annotation, "a value")
