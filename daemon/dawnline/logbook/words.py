"""An entry in a short line, in the units that are set: for lists, figures and answers."""

from __future__ import annotations

from typing import Any, Final

from dawnline.logbook.acts import KINDS
from dawnline.logbook.entry import Entry, Label, Typed, marks
from dawnline.logbook.pond_acts import HandTest
from dawnline.typed.quantity import Units
from dawnline.typed.shown import shown

_SILENT: Final = ("note", "photo", "when")


def line(kind: str, entry: Entry, units: Units = "metric") -> str:
    """The kind and what it says, on one line that cannot break out of it or paint a terminal.

    >>> line("hand-test", HandTest(kh_dkh=6, kh_step_dkh=1, ph=7.4, note="after rain"))
    'hand-test: KH 6 dKH (5 to 6 by drops), pH 7.4; after rain'
    """
    said = ", ".join(_figures(entry, units))
    note = entry.note or ""
    photo = getattr(entry, "photo", None)
    extra = [note] if note else []
    extra += [f"photograph {photo}"] if photo else []
    whole = ": ".join(part for part in (kind, "; ".join([said, *extra] if said else extra)) if part)
    return printable(whole)


def printable(text: str) -> str:
    """The text with spaces for what is not to be shown."""
    return "".join(c if c.isprintable() else " " for c in text)


def meaning(kind: str) -> str:
    """What a kind is for, in one line.

    >>> meaning("rain")
    'Rain fallen in the 24 hours before, or since the rain entry before.'
    """
    return (KINDS[kind].__doc__ or "").strip().splitlines()[0]


def how(kind: str) -> list[str]:
    """The keys of a kind, each as it may be written; those that name their unit take a bare number.

    >>> how("rain")
    ['amount="20 mm" or "0.8 in"', 'mm']
    """
    model, typed = KINDS[kind], marks(KINDS[kind], Typed)
    examples: dict[str, list[str]] = {}
    for each in (each for row in typed.values() for each in row):
        examples.setdefault(each.key, []).extend(each.measure.examples)
    rows = {key: f"{key}=" + " or ".join(f'"{x}"' if " " in x else x for x in some) for key, some in examples.items()}
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in rows and (name not in _SILENT or name == model.CHIEF):
            rows[key] = _choices(key, field.annotation)
    return list(rows.values())


def _choices(key: str, annotation: Any) -> str:
    """KEY=one|of|these where only these are known."""
    words = [each for each in _literals(annotation) if isinstance(each, str)]
    return f"{key}={'|'.join(words)}" if words else key


def _literals(annotation: Any) -> list[Any]:
    inner = getattr(annotation, "__args__", ())
    found = [] if inner else [annotation]
    for each in inner:
        found += [each] if isinstance(each, str) else _literals(each)
    return found


def _figures(entry: Entry, units: Units) -> list[str]:
    said = []
    for name, labels in marks(type(entry), Label).items():
        value = getattr(entry, name)
        if not labels or name in _SILENT or value is None:
            continue
        text = _value(value, labels[0], units) + _interval(entry, name)
        said.append(f"{labels[0].text} {text}".strip())
    return said


def _value(value: Any, label: Label, units: Units) -> str:
    if isinstance(value, tuple):
        return " and ".join(f"{ph:g}: {measured:.4g} at {celsius:g} degC" for ph, measured, celsius in value)
    if label.measure is None or not isinstance(value, float):
        return f"{value:g}" if isinstance(value, float) else str(value)
    text = shown(value * label.per, label.measure, units, label.digits)
    if units == "us" and label.measure.base == "dKH":
        text += f" ({shown_as_ppm(value)})"
    return text


def shown_as_ppm(kh_dkh: float) -> str:
    """KH as strips and kits in North America count it.

    >>> shown_as_ppm(6.0)
    '107 ppm'
    """
    from dawnline.typed.measures import ALKALINITY
    from dawnline.typed.quantity import show

    return show(kh_dkh, ALKALINITY, "ppm", 0)


def _interval(entry: Entry, name: str) -> str:
    """What a kit that counts drops can tell: the colour turned with the last of them."""
    if not isinstance(entry, HandTest):
        return ""
    step = {"kh_dkh": entry.kh_step_dkh, "gh_dgh": entry.gh_step_dgh}.get(name)
    if step is None:
        return ""
    high = max(getattr(entry, name), step)
    return f" ({high - step:g} to {high:g} by drops)"
