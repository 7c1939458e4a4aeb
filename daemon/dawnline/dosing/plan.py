"""A plan: its steps, or why there is none and what would be safe; the values it rests on; what to beware of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from dawnline.dosing.pond_water import PondWater
from dawnline.water.ammonia import tan_with_unionised, unionised_mg_l
from dawnline.water.doses import Water, aired, at_co2

# Common practice, no source, unless a line says otherwise.
LEAST_LITRES: Final = 200.0
MOST_LITRES: Final = 2_000_000.0
DAILY_PH: Final = 0.3  # by which the pH in balance with the air may move in a day
DAILY_DKH: Final = 1.0
DEFER: Final = (
    "dawnline doses nothing: this is a plan for you to check. The label of the product, the codes of your place and a "
    "fish vet come first; so does what you see: if fish gasp, lie or dash, stop and run more air.",
)


class Refusal(NamedTuple):
    """Why there is no plan, and what would be safe."""

    why: str
    instead: str


class Step(NamedTuple):
    """One day's dose (g or mL) or change (L) and the pH that follows; `unionised` [mg/L as N] at the highest pH.

    `dusk_low` is the pH of the next dusk where as much carbon is taken up as usual, `dusk_high` where CO2 is taken
    down as far as usual: the truth lies between.
    """

    day: int
    amount: float
    kh_meq_l: float
    at_once: float
    in_balance: float
    dusk_low: float
    dusk_high: float
    unionised: float | None


@dataclass(frozen=True, slots=True)
class Plan:
    """`kind` as on the command line; refused where there is a refusal. `figures`, and `values`, the pond's, are for
    machines.
    """

    kind: str
    used: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    advice: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    figures: tuple[tuple[str, float | str | None], ...] = ()
    values: Mapping[str, Mapping[str, float | str]] = field(default_factory=dict)

    @property
    def refused(self) -> bool:
        """Whether nothing is to be done."""
        return bool(self.refusals)


def refuse(kind: str, pond: PondWater, *refusals: Refusal, cautions: tuple[str, ...] = ()) -> Plan:
    """A plan that is none."""
    return Plan(kind, pond.used(), refusals=refusals, cautions=(*cautions, *DEFER))


def volume_refusal(pond: PondWater) -> Refusal | None:
    """What is wrong with the volume, if anything."""
    if pond.litres is None:
        how = "measure it: length x width x mean depth in metres x 1000; give --volume, or volume_litres in [pond]"
        return Refusal("the pond's volume is not known, and every amount follows from it", how)
    if not LEAST_LITRES <= pond.litres.value <= MOST_LITRES:
        found = f"a volume of {pond.litres.value:,.0f} L is no garden pond ({LEAST_LITRES:.0f} to {MOST_LITRES:,.0f} L)"
        return Refusal(found, "look at the unit (1 m3 is 1000 L) and give the volume again")
    return None


def follow(pond: PondWater, after: Water, day: int, amount: float) -> Step:
    """What the pH will be when the pond's water has become `after`: at once, in balance with the air, at next dusk."""
    balance, usual = aired(after), pond.water
    taken = aired(usual).dic_umol_l - at_co2(usual, pond.dusk_co2).dic_umol_l
    same_carbon = after._replace(dic_umol_l=max(balance.dic_umol_l - taken, 0.0))
    duskward = sorted((_ph_or(same_carbon, balance.ph), at_co2(after, pond.dusk_co2).ph))
    at_once = after.ph
    worst = max(at_once, balance.ph, duskward[1])
    poison = None if pond.tan is None else unionised_mg_l(pond.tan.value, worst, after.temperature_c)
    return Step(day, amount, after.alkalinity_meq_l, at_once, balance.ph, duskward[0], duskward[1], poison)


def _ph_or(water: Water, otherwise: float) -> float:
    """The pH of a water; another where it holds too little carbon for any."""
    try:
        return water.ph
    except ValueError:
        return otherwise


def ammonia_caution(step: Step, celsius: float, unionised: float) -> str:
    """How much total ammonia would be too much at the pH of this step."""
    worst = max(step.at_once, step.in_balance, step.dusk_high)
    most = tan_with_unionised(unionised, worst, celsius)
    return f"Test ammonia before the first dose: at pH {worst:.1f} a total of {most:.2g} mg/L as N is poisonous."
