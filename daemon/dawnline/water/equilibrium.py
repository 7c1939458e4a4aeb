"""From any two of pH, alkalinity, CO2 and inorganic carbon (DIC) the whole carbonate system, calcium counted."""

from __future__ import annotations

from math import exp, log, sqrt
from typing import NamedTuple

from dawnline.water.carbonate import LN10, bicarbonate_of_alkalinity, ph_of_carbon, ph_of_co2
from dawnline.water.conditional import Conditional, conditional, ionic_strength_from_alkalinity
from dawnline.water.pairs import pairs, with_pairs
from dawnline.water.ranges import check_alkalinity, check_amount, check_ph, check_temperature, refusal

_CLOSE = 1e-10  # of free calcium [mol/L] and ionic strength [mol/L]: pond water has 1e-3
_MOST_ROUNDS = 200  # pond water takes 4 to 8, the worst tried 25


class Equilibrium(NamedTuple):
    """One water. `dic` and alkalinity hold free and paired ions; `free_calcium` and `free_carbonate` [mol/L] are what
    minerals feel; `gamma` is the activity coefficient of a singly charged ion, `ionic_strength` in mol/L.
    """

    temperature_c: float
    ph: float
    alkalinity_meq_l: float
    co2_umol_l: float
    dic_umol_l: float
    calcium_mmol_l: float
    free_calcium: float
    free_carbonate: float
    gamma: float
    ionic_strength: float

    @property
    def ion_product(self) -> float:
        """Activity of Ca++ times that of CO3-- [mol2/L2], to be held against a mineral's solubility."""
        return self.free_calcium * self.free_carbonate * self.gamma**8


class _Given(NamedTuple):
    temperature_c: float
    ph: float | None
    alkalinity: float | None  # eq/L
    co2: float | None  # mol/L
    dic: float | None  # mol/L
    calcium: float | None  # mol/L
    ionic_strength: float | None


class _Found(NamedTuple):
    a: float
    alkalinity: float
    co2: float
    bicarbonate: float  # free and paired
    carbonate: float


def equilibrium(
    temperature_c: float,
    *,
    ph: float | None = None,
    alkalinity_meq_l: float | None = None,
    co2_umol_l: float | None = None,
    dic_umol_l: float | None = None,
    calcium_mmol_l: float | None = None,
    ionic_strength: float | None = None,
) -> Equilibrium:
    """Solves the carbonate system from exactly two of pH, alkalinity, CO2 and DIC.

    With calcium its pairs CaHCO3+ and CaCO3(aq) are counted and the ionic strength [mol/L] is that of calcium,
    carbonate and as many single charges as balance them; without (None: not known) there are no pairs, and it
    is that of calcium bicarbonate water, as in carbonate.py. Magnesium pairs nearly as calcium does and may be
    counted with it for the pH; sodium's weak pairs are left out.

    Against PHREEQC with calcium, from 0.25 to 4 meq/L at 5 to 25 degC and pCO2 from a quarter of the air's to
    seventy times it: pH from CO2 within 0.003, from DIC within 0.006 (0.012 in softened water above pH 9, for
    want of sodium's pairs), saturation within 0.007. Raises ValueError for a value outside its range (ranges.py),
    for more or fewer than two of the four, and for two that do not go together.

    >>> round(equilibrium(15.0, alkalinity_meq_l=4.0, co2_umol_l=19.0, calcium_mmol_l=2.0).ph, 2)  # PHREEQC: 8.66
    8.66
    >>> round(equilibrium(25.0, ph=8.2, co2_umol_l=14.0).alkalinity_meq_l, 2)
    1.05
    """
    for place, what, amount, unit in (
        ("co2_umol_l", "CO2", co2_umol_l, "umol/L"),
        ("dic_umol_l", "DIC", dic_umol_l, "umol/L"),
        ("calcium_mmol_l", "calcium", calcium_mmol_l, "mmol/L"),
    ):
        if amount is not None:
            check_amount(place, what, amount, unit)
    given = _Given(
        temperature_c,
        ph,
        _scaled(alkalinity_meq_l, 1e-3),
        _scaled(co2_umol_l, 1e-6),
        _scaled(dic_umol_l, 1e-6),
        _scaled(calcium_mmol_l, 1e-3),
        ionic_strength,
    )
    return _settled(_checked(given))


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _checked(given: _Given) -> _Given:
    check_temperature(given.temperature_c)
    if sum(value is not None for value in given[1:5]) != 2:
        found = {name: value for name, value in given._asdict().items() if value is not None}
        remedy = "give two; the others follow"
        raise refusal("equilibrium", "exactly two of pH, alkalinity, CO2 and DIC make a water", found, remedy)
    if given.ph is not None:
        check_ph(given.ph)
    if given.alkalinity is not None:
        check_alkalinity(given.alkalinity)
    return given


def _settled(given: _Given) -> Equilibrium:
    """Round by round until free calcium and ionic strength agree with the ions they lead to."""
    free, strength = given.calcium or 0.0, given.ionic_strength or 0.0
    for _ in range(_MOST_ROUNDS):
        water = _once(given, free, strength)
        if abs(water.free_calcium - free) < _CLOSE and abs(water.ionic_strength - strength) < _CLOSE:
            return water
        free, strength = water.free_calcium, water.ionic_strength
    remedy = "look at the units: meq/L, umol/L, mmol/L"
    raise refusal("equilibrium", "the ions of fresh water settle", given._asdict(), remedy)


def _once(given: _Given, free: float, strength: float) -> Equilibrium:
    """The water under one free calcium [mol/L] and ionic strength; what it holds are the next ones."""
    k = conditional(given.temperature_c, strength)
    pair = pairs(given.temperature_c, k.gamma)
    found = _solve(given, with_pairs(k, pair, free))
    bicarbonate = found.bicarbonate / (1.0 + pair.b1 * free)
    carbonate = found.carbonate / (1.0 + pair.b2 * free)
    calcium = given.calcium or 0.0
    if given.ionic_strength is not None:
        following = given.ionic_strength
    elif given.calcium is None:
        following = ionic_strength_from_alkalinity(found.alkalinity * 1e3)
    else:
        singles = abs(2.0 * calcium - found.alkalinity) + found.bicarbonate + k.kw / found.a + found.a / k.gamma
        following = (4.0 * (free + carbonate) + singles) / 2.0
    return Equilibrium(
        given.temperature_c,
        -log(found.a) / LN10,
        found.alkalinity * 1e3,
        found.co2 * 1e6,
        (found.co2 + found.bicarbonate + found.carbonate) * 1e6,
        calcium * 1e3,
        calcium / (1.0 + pair.b1 * bicarbonate + pair.b2 * carbonate),
        carbonate,
        k.gamma,
        following,
    )


def _solve(given: _Given, k: Conditional) -> _Found:
    """All of the system under fixed constants."""
    a = exp(-LN10 * (given.ph if given.ph is not None else _ph(given, k)))
    if given.co2 is not None:
        bicarbonate = k.k1 * given.co2 / a
    elif given.dic is not None:
        bicarbonate = given.dic / (a / k.k1 + 1.0 + k.k2 / a)
    else:
        assert given.alkalinity is not None
        bicarbonate = bicarbonate_of_alkalinity(given.alkalinity, a, k)
    carbonate = k.k2 * bicarbonate / a
    alkalinity = bicarbonate + 2.0 * carbonate + k.kw / a - a / k.gamma
    return _Found(a, alkalinity, bicarbonate * a / k.k1, bicarbonate, carbonate)


def _ph(given: _Given, k: Conditional) -> float:
    if given.alkalinity is not None and given.co2 is not None:
        return ph_of_co2(given.alkalinity, given.co2, k)
    if given.alkalinity is not None and given.dic is not None:
        return ph_of_carbon(given.alkalinity, given.dic, k)
    assert given.co2 is not None
    assert given.dic is not None
    if given.co2 == 0.0:
        raise refusal("co2_umol_l", "beside DIC the CO2 must be above 0", 0.0, "give pH or alkalinity instead of CO2")
    if not given.co2 < given.dic:
        holds = f"there is more than {given.co2 * 1e6:.1f} umol/L of CO2"
        remedy = "DIC is CO2, bicarbonate and carbonate together"
        raise refusal("dic_umol_l", holds, given.dic * 1e6, remedy)
    # k1 k2 x^2 + k1 x = DIC/CO2 - 1 with x = 1/a
    charged = given.dic / given.co2 - 1.0
    return log(2.0 * charged / (k.k1 + sqrt(k.k1 * k.k1 + 4.0 * k.k1 * k.k2 * charged))) / LN10
