"""What the two layers and the beds hold, and what comes of mixing water with water."""

from __future__ import annotations

from typing import NamedTuple

from dawnline.water.carbonate import ph_of_carbon
from dawnline.water.conditional import Conditional, conditional

IONIC_STRENGTH_PER_CALCIUM = 3e-6  # mol/L per umol/L: Ca++ with two single anions


class Layer(NamedTuple):
    """One well-stirred layer: umol/L, alkalinity in ueq/L; `ph` and `co2` follow from the rest."""

    temperature_c: float
    alkalinity: float
    dic: float
    oxygen: float
    ammonia: float  # total, as N
    nitrate: float
    calcium: float
    plankton: float  # as C
    labile: float  # loose organic matter, as C
    ph: float = 7.4
    co2: float = 0.0


class PondState(NamedTuple):
    """Two layers and what does not drift: beds in mol C, gut in g of feed, nitrifiers as a share of the best.

    `carbon_in` [mol C] and `charge_in` [eq] are the books: all that has crossed the pond's border so far.
    """

    surface: Layer
    bottom: Layer
    gut_g: float = 0.0
    film: float = 2.0  # filter bed
    sediment: float = 6.0
    walls: float = 4.0  # algae on walls and stones
    nitrifiers: float = 0.5
    fish_kg: float = 10.0
    shell_m2: float = 0.0
    carbon_in: float = 0.0
    charge_in: float = 0.0


def constants(layer: Layer) -> Conditional:
    """Carbonate constants in this water, held to 0 to 50 degC."""
    strength = IONIC_STRENGTH_PER_CALCIUM * max(layer.calcium, 0.0)
    return conditional(min(max(layer.temperature_c, 0.0), 50.0), strength)


def settle(layer: Layer) -> Layer:
    """The layer with the pH and CO2 that belong to it."""
    k = constants(layer)
    ph = ph_of_carbon(layer.alkalinity * 1e-6, max(layer.dic, 0.0) * 1e-6, k, layer.ph)
    a = 10.0**-ph
    co2 = layer.dic / (1.0 + k.k1 / a * (1.0 + k.k2 / a))
    return layer._replace(ph=ph, co2=co2)


def blend(one: Layer, two: Layer, share: float) -> Layer:
    """`share` of the one replaced by the other; the pH is not settled yet.

    >>> round(blend(Layer(10, 0, 0, 0, 0, 0, 0, 0, 0), Layer(20, 400, 0, 0, 0, 0, 0, 0, 0), 0.25).alkalinity)
    100
    """
    mixed = [a + share * (b - a) for a, b in zip(one, two, strict=True)]
    return Layer(*mixed)._replace(ph=one.ph, co2=one.co2)
