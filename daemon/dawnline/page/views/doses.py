"""Doses: plans of what may be put into the water, as `dawnline dose` makes them. Nothing here doses anything."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final, NamedTuple

from dawnline.errors import InputError, SettingsError
from dawnline.page.ask import Ask, Page


class Field(NamedTuple):
    """One input; `key` is the option of the command."""

    key: str
    label: str
    hint: str = ""
    choices: tuple[str, ...] = ()


class Kind(NamedTuple):
    """One kind of plan."""

    name: str
    meaning: str
    fields: tuple[Field, ...]


KINDS: Final = {
    "raise-kh": Kind(
        "Raise KH",
        "How much sodium bicarbonate, and over how many days.",
        (Field("to", "To which KH", "5dKH or 90ppm"), Field("days", "In how many days at most", "a number")),
    ),
    "water-change": Kind(
        "Water change",
        "What it does to KH, pH, temperature and ammonia.",
        (
            Field("share", "How much of the pond", "15%"),
            Field("source-kh", "KH of the new water", "3dKH"),
            Field("source-ph", "pH of the new water", "7.6"),
            Field("source-temperature", "The new water at", "12C"),
        ),
    ),
    "lower-ph": Kind(
        "A high pH",
        "What to do about a pH that is high in the afternoon.",
        (
            Field("with", "With what", "nothing: shade and air; or vinegar, as a last resort"),
            Field("amount", "How much of it", "100mL"),
            Field("air", "The air pump is", "", ("on", "off")),
        ),
    ),
    "shell": Kind("Shell", "What the shell in the filter has been delivering.", ()),
}
WATER: Final = (
    Field("kh", "KH now", "3 drops or 2.5dKH"),
    Field("ammonia", "Total ammonia, tested within three days", "0.5mg/L N or 0.5mg/L NH4"),
    Field("ph", "pH now", "as the probe says, where nothing stands"),
    Field("temperature", "Water at", "as the probe says, where nothing stands"),
    Field("volume", "Volume", "as configured, where nothing stands"),
)

_PLAN: Final = re.compile(r"`(?:dawnline )?dose ([a-z-]+)`")
_OPTION: Final = re.compile(r"--([a-z]+(?:-[a-z]+)*)")


def doses(_ask: Ask) -> Page:
    """What can be planned."""
    return Page("doses.html", {"kinds": [(key, kind.name, kind.meaning) for key, kind in KINDS.items()]})


def plan(ask: Ask) -> Page:
    """The form of one kind, and the plan where something was given."""
    what = ask.path["what"]
    if what not in KINDS:
        raise InputError(f"there is no plan {what!r}")
    kind = KINDS[what]
    fields = (*kind.fields, *WATER)
    given = {each.key: ask.query[each.key].strip() for each in fields if ask.query.get(each.key, "").strip()}
    shown: dict[str, object] = {"what": what, "kind": kind, "own": kind.fields, "water": WATER, "given": given}
    lines: list[str] = []
    refused, trouble = False, ""
    if "go" in ask.query:
        try:
            refused, found = ask.doors.plan(what, given)
            lines = [_on_a_page(each, fields) for each in found]
        except (InputError, SettingsError) as error:
            trouble = _on_a_page(str(error), fields)
    return Page("dose.html", {**shown, "lines": lines, "refused": refused, "trouble": trouble}, 400 if trouble else 200)


def _on_a_page(line: str, fields: Sequence[Field]) -> str:
    """An option of the command is a field here, and another plan a page.

    >>> _on_a_page("test KH by hand and log it, or give --kh", WATER)
    'test KH by hand and log it, or give "KH now"'
    >>> _on_a_page("narrows the swing (`dose raise-kh`)", WATER)
    'narrows the swing ("Raise KH")'
    """
    labels = {each.key: each.label for each in fields}
    line = _PLAN.sub(lambda found: f'"{KINDS[found[1]].name}"' if found[1] in KINDS else found[0], line)
    return _OPTION.sub(lambda found: f'"{labels[found[1]]}"' if found[1] in labels else found[0], line)
