"""What is said back when an entry is taken: what was understood, and what follows from it."""

from __future__ import annotations

from typing import Final, NamedTuple

from dawnline.logbook.acts import AeratedCup, Algaecide, Entry, Medication
from dawnline.logbook.cautions import of_algaecide, of_medication
from dawnline.logbook.words import line
from dawnline.typed.measures import TEMPERATURE
from dawnline.typed.quantity import Units
from dawnline.typed.shown import shown

ROSE: Final = 0.3  # pH that air must win to speak of CO2; common practice, no source


class Water(NamedTuple):
    """What is known of the water just now: pH, and whether its probe is `doubted`; degC; and the last test of KH [dKH]
    with its age in words.
    """

    ph: float | None = None
    doubted: bool = False
    celsius: float | None = None
    kh: tuple[float, str] | None = None

    def text(self, units: Units) -> str:
        """In words, with what it means for what is put in."""
        said = [] if self.ph is None else [f"pH {self.ph:.1f}{' by a probe that is doubted' if self.doubted else ''}"]
        said += [] if self.celsius is None else [shown(self.celsius, TEMPERATURE, units, 0)]
        said += [] if self.kh is None else [f"KH {self.kh[0]:.3g} dKH by a test {self.kh[1]} ago"]
        if self.kh is None:
            said.append("KH unknown: test it first")
        return f"The water now: {', '.join(said)}."


def answer(kind: str, entry: Entry, units: Units = "metric", water: Water | None = None) -> str:
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
    if water is not None and not isinstance(entry, AeratedCup):
        more = f"{water.text(units)} {more}"
    return f"{said}. {more}"


def _cup(rose: float) -> str:
    if rose >= ROSE:
        return f"pH rose by {rose:.1f}: it was CO2; more air will help."
    return "pH stayed: the buffer is gone, and air will not mend it; test KH."
