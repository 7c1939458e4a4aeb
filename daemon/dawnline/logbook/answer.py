"""What is said back when an entry is taken: what was understood, and what follows from it."""

from __future__ import annotations

from typing import Final

from dawnline.logbook.acts import AeratedCup, Algaecide, Entry, Medication
from dawnline.logbook.cautions import of_algaecide, of_medication
from dawnline.logbook.words import line
from dawnline.typed.quantity import Units

ROSE: Final = 0.3  # pH that air must win to speak of CO2; common practice, no source


def answer(kind: str, entry: Entry, units: Units = "metric") -> str:
    """The answer to an entry about the pond.

    >>> answer("aerated-cup", AeratedCup(before=6.4, after=6.5))
    'noted as aerated-cup: before 6.4, after 6.5. pH stayed: the buffer is gone, and air will not mend it; test KH.'
    """
    said = f"noted as {line(kind, entry, units)}"
    match entry:
        case AeratedCup():
            more = _cup(entry.after - entry.before)
        case Medication():
            more = of_medication(entry.what)
        case Algaecide():
            more = of_algaecide(entry.what)
        case _:
            return said
    return f"{said}. {more}"


def _cup(rose: float) -> str:
    if rose >= ROSE:
        return f"pH rose by {rose:.1f}: it was CO2; more air will help."
    return "pH stayed: the buffer is gone, and air will not mend it; test KH."
