"""What is wrong with what somebody typed, in words: the key, what was found, what is expected."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any, Final

from pydantic import BaseModel

from dawnline.duration import beyond_bound

FOUND_SHOWN: Final = 60  # characters of a wrong value in a message


def fault(name: str, model: type[BaseModel], line: Any) -> str:
    """One line of a ValidationError."""
    key = ".".join(str(part) for part in line["loc"])
    if line["type"] == "extra_forbidden":
        return f"{name}: unknown key {short(key)}; {nearest(key, keys(model))}"
    if line["type"] == "missing":
        return f"{name}: {key!r} is missing"
    bound = beyond_bound(line["type"], line.get("ctx", {}), line["input"])
    message = (
        f"expected {bound}"
        if bound
        else line["msg"].removeprefix("Value error, ").replace("Input should be", "expected")
    )
    return f"{name}: {key + ': ' if key else ''}{message}" + (f", found {short(line['input'])}" if key else "")


def short(found: object) -> str:
    """What was found, short enough for a message."""
    text = repr(found)
    return text if len(text) <= FOUND_SHOWN else text[:FOUND_SHOWN] + "..."


def keys(model: type[BaseModel]) -> list[str]:
    """The keys of a model as they are written."""
    return [field.alias or name for name, field in model.model_fields.items()]


def nearest(word: str, known: Iterable[str]) -> str:
    """The nearest known word, or all of them."""
    words = list(known)
    near = difflib.get_close_matches(word, words, 1)
    return f"did you mean {near[0]!r}?" if near else f"known: {', '.join(words)}"
