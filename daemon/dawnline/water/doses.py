"""What a dose, a change of water or the air does to a water: its alkalinity, its inorganic carbon and so its pH.

Mass balances on alkalinity and inorganic carbon, which a mixture adds up; pH follows by equilibrium.py, calcium
counted. Molar masses NaHCO3 84.0066, CH3COOH 60.052, O2 31.998 g/mol (IUPAC, abridged, from memory). Calcium is by
default half the alkalinity, as in calcium bicarbonate water.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from dawnline.water.constants import henry
from dawnline.water.equilibrium import Equilibrium, equilibrium
from dawnline.water.ranges import check_amount, refusal

AIR_CO2_UATM: Final = 425.0  # the air of 2025, from memory; 10 more or less are 0.01 of pH
MG_PER_MEQ_BICARBONATE: Final = 84.0066
MG_PER_MEQ_ACETIC: Final = 60.052
OXYGEN_PER_ACETIC: Final = 2.0 * 31.998 / 60.052  # CH3COOH + 2 O2 = 2 CO2 + 2 H2O, by mass
VINEGAR_G_L: Final = 50.0  # white vinegar of 5 %, as acetic acid in grams a litre


class Water(NamedTuple):
    """One water. Alkalinity in meq/L, inorganic carbon in umol/L, calcium in mmol/L."""

    alkalinity_meq_l: float
    dic_umol_l: float
    temperature_c: float
    calcium_mmol_l: float

    @property
    def state(self) -> Equilibrium:
        """The whole carbonate system of it."""
        return equilibrium(
            self.temperature_c,
            alkalinity_meq_l=self.alkalinity_meq_l,
            dic_umol_l=self.dic_umol_l,
            calcium_mmol_l=self.calcium_mmol_l,
        )

    @property
    def ph(self) -> float:
        """Its pH."""
        return self.state.ph


def water_of(
    alkalinity_meq_l: float, ph: float | None, temperature_c: float, calcium_mmol_l: float | None = None
) -> Water:
    """Water of this alkalinity and pH; without a pH it is taken as in balance with the air.

    Raises ValueError as `equilibrium` does.

    >>> round(water_of(1.0, None, 15.0).ph, 2)  # PHREEQC: 8.11 at 417 uatm
    8.1
    """
    calcium = max(alkalinity_meq_l, 0.0) / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    if ph is None:
        return aired(Water(alkalinity_meq_l, 0.0, temperature_c, calcium))
    found = equilibrium(temperature_c, ph=ph, alkalinity_meq_l=alkalinity_meq_l, calcium_mmol_l=calcium)
    return Water(alkalinity_meq_l, found.dic_umol_l, temperature_c, calcium)


def air_co2_umol_l(temperature_c: float, uatm: float = AIR_CO2_UATM) -> float:
    """CO2 [umol/L] of water in balance with the air. Raises ValueError outside 0 to 50 degC.

    >>> round(air_co2_umol_l(15.0), 1)
    19.4
    """
    return henry(temperature_c) * uatm


def at_co2(water: Water, co2_umol_l: float) -> Water:
    """The same water once its CO2 is this much; alkalinity stays. Raises ValueError as `equilibrium` does."""
    found = equilibrium(
        water.temperature_c,
        alkalinity_meq_l=water.alkalinity_meq_l,
        co2_umol_l=co2_umol_l,
        calcium_mmol_l=water.calcium_mmol_l,
    )
    return water._replace(dic_umol_l=found.dic_umol_l)


def aired(water: Water) -> Water:
    """The same water once it is in balance with the air: half a day to a day with good aeration.

    >>> round(aired(water_of(1.0, 7.0, 15.0)).ph, 1)
    8.1
    """
    return at_co2(water, air_co2_umol_l(water.temperature_c))


def with_bicarbonate(water: Water, added_meq_l: float) -> Water:
    """The water at once after sodium bicarbonate: as much carbon as alkalinity. Raises ValueError below zero.

    >>> round(with_bicarbonate(water_of(0.1, 6.2, 15.0), 0.5).ph, 2)  # PHREEQC: 6.97
    6.97
    """
    check_amount("added_meq_l", "what is added", added_meq_l, "meq/L")
    return water._replace(
        alkalinity_meq_l=water.alkalinity_meq_l + added_meq_l, dic_umol_l=water.dic_umol_l + 1000.0 * added_meq_l
    )


def bicarbonate_g(added_meq_l: float, litres: float) -> float:
    """Sodium bicarbonate [g] that raises this much water [L] by this alkalinity [meq/L]. Raises ValueError below zero.

    >>> round(bicarbonate_g(0.35665, 1000.0), 2)  # one degree of KH in a cubic metre
    29.96
    """
    check_amount("added_meq_l", "what is added", added_meq_l, "meq/L")
    check_amount("litres", "the volume", litres, "L")
    return added_meq_l * MG_PER_MEQ_BICARBONATE * litres / 1000.0


def with_vinegar(water: Water, millilitres: float, litres: float, grams_a_litre: float = VINEGAR_G_L) -> Water:
    """The water at once after so much vinegar: less alkalinity, the same carbon, so CO2 appears.

    The acid is taken as wholly dissociated, true to 2 % above pH 6.5 (pKa 4.76, from memory). Within days bacteria
    eat the acetate, and the alkalinity is back. Raises ValueError for no water and a negative amount.

    >>> round(with_vinegar(water_of(1.0, 8.4, 20.0), 31.25, 1000.0).ph, 1)
    8.0
    """
    acid_meq_l = acetic_mg_l(millilitres, litres, grams_a_litre) / MG_PER_MEQ_ACETIC
    return water._replace(alkalinity_meq_l=water.alkalinity_meq_l - acid_meq_l)


def acetic_mg_l(millilitres: float, litres: float, grams_a_litre: float = VINEGAR_G_L) -> float:
    """Acetic acid [mg/L] that so much vinegar brings into the water. Raises ValueError as `with_vinegar`.

    >>> acetic_mg_l(31.25, 1000.0)
    1.5625
    """
    check_amount("millilitres", "the vinegar", millilitres, "mL")
    if not litres > 0.0:
        raise refusal("litres", "a pond has a volume above 0 litres", litres, "give the pond's volume in litres")
    return millilitres * grams_a_litre / litres


def oxygen_for_acetic(acetic: float) -> float:
    """Oxygen [mg/L] that bacteria use to eat so much acetic acid [mg/L].

    >>> round(oxygen_for_acetic(1.5625), 2)
    1.67
    """
    return acetic * OXYGEN_PER_ACETIC


def mixed(water: Water, other: Water, share: float) -> Water:
    """The water after this share of it, 0 to 1, has been replaced by the other. Raises ValueError for another share.

    >>> round(mixed(water_of(2.0, 8.0, 20.0), water_of(3.0, 7.5, 10.0), 0.1).alkalinity_meq_l, 3)
    2.1
    """
    if not 0.0 <= share <= 1.0:
        raise refusal("share", "a share lies between 0 and 1", share, "15 % is 0.15")
    return Water(*(own + share * (new - own) for own, new in zip(water, other, strict=True)))


def alkalinity_at_least(ph: float, temperature_c: float) -> float:
    """The least alkalinity [meq/L] that water of this pH can have while it holds no less CO2 than the air gives it.

    So it is at dawn; below the pH of pure water in balance with the air there is none. Raises ValueError as
    `equilibrium` does.

    >>> round(alkalinity_at_least(7.0, 15.0), 3)
    0.075
    """
    return max(equilibrium(temperature_c, ph=ph, co2_umol_l=air_co2_umol_l(temperature_c)).alkalinity_meq_l, 0.0)
