"""A plan in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from dawnline.dosing.plan import Plan, Step
from dawnline.typed.measures import MASS, VOLUME
from dawnline.typed.quantity import Units
from dawnline.typed.shown import shown
from dawnline.water.units import dkh_from_meq_l

_UNIT: Final = {"raise-kh": "g", "lower-ph": "mL", "water-change": "L", "shell": "g"}


def lines(plan: Plan, units: Units = "metric") -> Iterator[str]:
    """The plan, line by line."""
    for refusal in plan.refusals:
        yield f"no: {refusal.why}"
        yield f"    instead: {refusal.instead}"
    for step in plan.steps:
        yield from _step(plan.kind, step, units, several=len(plan.steps) > 1)
    if plan.advice:
        yield from ("", *plan.advice)
    yield from ("", "used:", *(f"  {row}" for row in plan.used))
    yield from ("", "beware:", *(f"  {row}" for row in plan.cautions))


def _step(kind: str, step: Step, units: Units, *, several: bool) -> Iterator[str]:
    amount = {
        "raise-kh": f"{shown(step.amount, MASS, units)} of sodium bicarbonate",
        "lower-ph": f"{shown(step.amount / 1000.0, VOLUME, units)} of white vinegar",
        "water-change": f"{shown(step.amount, VOLUME, units)} of the new water",
    }[kind]
    yield f"{f'day {step.day}: ' if several else ''}{amount}: KH {dkh_from_meq_l(step.kh_meq_l):.2f} dKH"
    yield f"    pH {step.at_once:.2f} at once, {step.in_balance:.2f} in balance with the air, {_dusk(step)} at dusk"
    if step.unionised is not None:
        yield f"    un-ionised ammonia at most {step.unionised:.3f} mg/L as N"


def _dusk(step: Step) -> str:
    low, high = f"{step.dusk_low:.2f}", f"{step.dusk_high:.2f}"
    return low if low == high else f"{low} to {high}"


def as_json(plan: Plan) -> dict[str, Any]:
    """The plan as an object for machines."""
    return {
        "version": 1,
        "plan": plan.kind,
        "refused": plan.refused,
        "refusals": [{"why": each.why, "instead": each.instead} for each in plan.refusals],
        "steps": [
            {
                "day": step.day,
                "amount": round(step.amount, 1),
                "unit": _UNIT[plan.kind],
                "kh_dkh": round(dkh_from_meq_l(step.kh_meq_l), 3),
                "alkalinity_meq_l": round(step.kh_meq_l, 4),
                "ph_at_once": round(step.at_once, 3),
                "ph_in_balance": round(step.in_balance, 3),
                "ph_dusk_low": round(step.dusk_low, 3),
                "ph_dusk_high": round(step.dusk_high, 3),
                "unionised_mg_l": None if step.unionised is None else round(step.unionised, 4),
            }
            for step in plan.steps
        ],
        "figures": {name: round(value, 4) if isinstance(value, float) else value for name, value in plan.figures},
        "values": plan.values,
        "used": list(plan.used),
        "advice": list(plan.advice),
        "cautions": list(plan.cautions),
    }
