"""What one line or payload says, by name, and how one value is taken out of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, TypeAlias

from dawnline.probes.dialects.moment import moment
from dawnline.probes.dialects.number import number
from dawnline.probes.dialects.value import Refusal, Refused, Value, shown

Fields: TypeAlias = Mapping[str | None, object]
"""Raw texts, floats or other JSON values by name; None is a bare number, dots go deeper into JSON."""

MAX_DEPTH = 16
BRACKETS = 1_000  # opening brackets of a whole line or payload; a reading has a handful


class _DuplicateKeyError(ValueError):
    pass


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _DuplicateKeyError
    return found


# parse_int=float: int() refuses more than 4300 digits with a ValueError.
_DECODER = json.JSONDecoder(parse_int=float, object_pairs_hook=_once)


def bare_field(text: str) -> Fields | Refusal:
    """The one field of a text that is a number and nothing else."""
    value = number(text)
    return value if isinstance(value, Refusal) else {None: text}


def json_fields(text: str) -> Fields | Refusal:
    """The fields of a JSON object (RFC 8259); a number in quotes is a bare number.

    Names repeated in one object are refused, as RFC 8259 leaves open which of them counts. Numbers of any
    length become floats. NaN and Infinity, which Python's parser takes, stay infinite and are refused later.
    """
    try:
        if text.count("[") + text.count("{") > BRACKETS:
            return Refusal.NESTED_TOO_DEEP
        found = _DECODER.decode(text)
    except _DuplicateKeyError:
        return Refusal.DUPLICATE_KEY
    except RecursionError:  # how deep is too deep differs between versions of Python: ours is BRACKETS
        return Refusal.NESTED_TOO_DEEP
    except ValueError:
        return Refusal.NOT_JSON
    if isinstance(found, str):
        return {None: found}
    return _flat(found) if isinstance(found, dict) else Refusal.NOT_AN_OBJECT


def _flat(found: dict[str, Any]) -> Fields | Refusal:
    fields: dict[str | None, object] = {}
    level: dict[str, Any] = found
    for _ in range(MAX_DEPTH):
        deeper: dict[str, Any] = {}
        for name, value in level.items():
            if isinstance(value, dict):
                inner = {f"{name}.{key}": below for key, below in value.items()}
                if inner.keys() & deeper.keys():
                    return Refusal.DUPLICATE_KEY
                deeper |= inner
            elif name in fields:
                return Refusal.DUPLICATE_KEY
            else:
                fields[name] = value
        if not deeper:
            return fields
        level = deeper
    return Refusal.NESTED_TOO_DEEP


def pick(fields: Fields, key: str | None, time_key: str | None) -> Value | Refused:
    """The value under `key` (None: the bare number), with its time where `time_key` names one.

    A time that is missing is none; a time that cannot be read refuses the value, as its age is unknown.
    """
    if key not in fields:
        return Refused(Refusal.NO_SUCH_KEY, shown(", ".join(name or "a bare number" for name in fields)), key)
    value = number(fields[key])
    if isinstance(value, Refusal):
        return Refused(value, _pair(key, fields[key]), key)
    if time_key is None or time_key not in fields:
        return Value(key, value, None)
    at = moment(fields[time_key])
    if isinstance(at, Refusal):
        return Refused(Refusal.BAD_TIME, _pair(time_key, fields[time_key]), key)
    return Value(key, value, at)


def _pair(key: str | None, raw: object) -> str:
    # A long list or text is never rendered whole.
    text = raw if isinstance(raw, str) else type(raw).__name__ if isinstance(raw, list) else str(raw)
    return shown(text if key is None else f"{key}={text[:200]}")
