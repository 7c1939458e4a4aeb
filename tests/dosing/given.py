"""Figures of the water as they are given to a plan."""

from __future__ import annotations

from dawnline.dosing.pond_water import Fact
from dawnline.water.units import meq_l_from_dkh


def fact(value: float) -> Fact:
    return Fact(value, "given")


def dkh(value: float) -> float:
    """Alkalinity [meq/L] of a KH in degrees."""
    return meq_l_from_dkh(value)
