"""What is said back when a buffer was put in and logged while there is ammonia that a higher pH makes poisonous."""

from __future__ import annotations

from typing import Final

from dawnline.dosing.plan import DAILY_PH, follow
from dawnline.dosing.pond_water import PondWater
from dawnline.dosing.substances import is_strong_base, raises_ph
from dawnline.water.ammonia import HARMFUL_FROM, unionised_mg_l
from dawnline.water.doses import MG_PER_MEQ_BICARBONATE, with_bicarbonate

STRONG_PH: Final = 10.0  # where a strong base falls in
PRESUMED_PH: Final = 8.0  # of the next dusk, where no pH is known; common sense, no source
_WHAT_TO_DO: Final = (
    "Feed nothing, run all the air there is, change 10 to 20 % of the water a day, and test again before any more."
)


def ammonia_warning(what: str, bicarbonate_g: float | None, pond: PondWater) -> str:
    """The warning after a dose of `what`; `bicarbonate_g` of it is sodium bicarbonate, where that is known. "" where no
    ammonia is known, or the pH that follows does not make it poisonous.
    """
    if pond.tan is None or not raises_ph(what):
        return ""
    ph = STRONG_PH if is_strong_base(what) else _highest(bicarbonate_g, pond)
    poison = unionised_mg_l(pond.tan.value, ph, pond.warmth)
    if poison < HARMFUL_FROM:
        return ""
    return (
        f"WARNING: there are {pond.tan.value:.2g} mg/L of ammonia in all as N ({pond.tan.origin}); at the pH that this "
        f"leads to, up to about {ph:.1f}, {poison:.2g} mg/L of it are un-ionised: poisonous from {HARMFUL_FROM:g} on. "
        f"{_WHAT_TO_DO}"
    )


def _highest(bicarbonate_g: float | None, pond: PondWater) -> float:
    """The highest pH up to the next dusk; where the dose or the water is not known well enough, a day's leap more."""
    known = [fact.value for fact in (pond.dusk_ph, pond.ph) if fact is not None]
    before = max(known, default=PRESUMED_PH)
    if bicarbonate_g is not None and pond.kh is not None and pond.litres is not None:
        added = bicarbonate_g * 1000.0 / MG_PER_MEQ_BICARBONATE / pond.litres.value
        try:
            step = follow(pond, with_bicarbonate(pond.water, added), 1, bicarbonate_g)
        except ValueError:  # a water that the chemistry does not hold for
            return before + DAILY_PH
        return max(step.at_once, step.in_balance, step.dusk_high)
    return before + DAILY_PH
