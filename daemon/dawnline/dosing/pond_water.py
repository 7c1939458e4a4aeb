"""What is known of the pond before anything is put into it, and where each value comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from dawnline.typed.measures import TEMPERATURE, VOLUME
from dawnline.typed.quantity import Units
from dawnline.typed.shown import shown
from dawnline.water.doses import Water, air_co2_umol_l, aired, alkalinity_at_least, water_of
from dawnline.water.ranges import refusal
from dawnline.water.units import dkh_from_meq_l

LEAST_PH, MOST_PH = 4.5, 11.0  # below, the water is acid and holds no bicarbonate at all
PRESUMED_C: Final = 25.0  # on the safe side for ammonia
PRESUMED_DAWN: Final = 7.0  # at most, where it is not known; common sense, no source, as the next two
PRESUMED_SWING: Final = 0.7  # by how much the pH at dawn may lie below that of the day
PRESUMED_DUSK: Final = 0.5  # of the air's CO2 is left at dusk: 0.3 of pH


class Fact(NamedTuple):
    """A value and where it comes from, in words that follow it: "given", "from your test of 3 June"; and why the probe
    that says so is doubted, if it is.
    """

    value: float
    origin: str
    doubt: str = ""

    @property
    def source(self) -> str:
        """Where it comes from, and what speaks against it."""
        return f"{self.origin}; DOUBTED: {self.doubt}" if self.doubt else self.origin


@dataclass(frozen=True, slots=True)
class PondWater:
    """One pond's water as known now. Alkalinity in meq/L: `kh` the likeliest, `kh_low` the least that a test allows.

    `tan` [mg/L as N] only while the test is fresh. `crashed` says in words why the pond counts as crashed, if it does.
    """

    litres: Fact | None = None
    kh: Fact | None = None
    kh_low: float | None = None
    ph: Fact | None = None
    dusk_ph: Fact | None = None
    dawn_ph: Fact | None = None
    celsius: Fact | None = None
    tan: Fact | None = None
    calcium: Fact | None = None  # mmol/L
    crashed: str = ""
    units: Units = "metric"  # in which people read it

    @property
    def warmth(self) -> float:
        """Degrees Celsius, presumed where not known."""
        return PRESUMED_C if self.celsius is None else max(self.celsius.value, 0.0)

    @property
    def water(self) -> Water:
        """The water at its likeliest alkalinity; without a pH in balance with the air. Needs `kh`."""
        assert self.kh is not None
        calcium = None if self.calcium is None else self.calcium.value
        return water_of(self.kh.value, None if self.ph is None else self.ph.value, self.warmth, calcium)

    @property
    def low(self) -> float:
        """The least alkalinity that the test and the pH at dawn allow [meq/L]: water is richest in CO2 then. By day
        algae may have taken it, so a pH by day says less. Needs `kh`.
        """
        assert self.kh is not None
        if self.kh_low is None:
            return self.kh.value
        lows = [] if self.dawn_ph is None else [self.dawn_ph.value]
        if self.ph is not None and (self.crashed or not lows):
            lows.append(self.ph.value - (0.0 if self.crashed else PRESUMED_SWING))
        dawn = min(lows) if self.dawn_ph is not None else min([*lows, PRESUMED_DAWN])
        return min(max(self.kh_low, alkalinity_at_least(max(min(dawn, 9.0), 0.0), self.warmth)), self.kh.value)

    @property
    def tested_low(self) -> float:
        """The least alkalinity that the test alone allows [meq/L]. Needs `kh`."""
        assert self.kh is not None
        return self.kh.value if self.kh_low is None else self.kh_low

    @property
    def dusk_co2(self) -> float:
        """CO2 at dusk [umol/L], from the usual dusk pH; presumed where that is not known, or not since a crash."""
        if self.dusk_ph is None or self.kh is None or self.crashed:
            return PRESUMED_DUSK * air_co2_umol_l(self.warmth)
        return water_of(self.kh.value, self.dusk_ph.value, self.warmth).state.co2_umol_l

    def checked(self) -> None:
        """Raises ValueError for a value that no pond's water has."""
        for name, fact, least, most, unit in (
            ("temperature", self.celsius, -2.0, 45.0, "degC"),
            ("pH", self.ph, LEAST_PH, MOST_PH, ""),
            ("dusk pH", self.dusk_ph, LEAST_PH, MOST_PH, ""),
            ("dawn pH", self.dawn_ph, LEAST_PH, MOST_PH, ""),
            ("total ammonia", self.tan, 0.0, 100.0, "mg/L as N"),
        ):
            if fact is not None and not least <= fact.value <= most:
                found = f"{fact.value:g} {unit}".strip()
                raise refusal(name, f"a pond's lies between {least:g} and {most:g}", found, "read it again")

    def used(self) -> tuple[str, ...]:
        """Every value used, with its origin; what is presumed says so."""
        rows: list[str] = []
        if self.litres is not None:
            litres = shown(self.litres.value, VOLUME, self.units)
            rows.append(f"volume {litres} ({self.litres.origin})")
        if self.kh is not None:
            known = self.kh_low is None or self.kh.value - self.low < 0.01
            low = "" if known else f", not less than {dkh_from_meq_l(self.low):.2f}"
            rows.append(f"KH {dkh_from_meq_l(self.kh.value):.2f} dKH{low} ({self.kh.origin})")
        if self.ph is not None:
            rows.append(f"pH {self.ph.value:.2f} ({self.ph.source})")
        elif self.kh is not None:
            rows.append(f"pH {aired(self.water).ph:.2f} (not known: taken as in balance with the air)")
        if self.dusk_ph is not None and not self.crashed:
            rows.append(f"dusk pH {self.dusk_ph.value:.2f} ({self.dusk_ph.origin})")
        else:
            rows.append("dusk pH not known: half of the air's CO2 is presumed to be left then")
        origin = "not known: presumed, on the safe side" if self.celsius is None else self.celsius.source
        rows.append(f"water {shown(self.warmth, TEMPERATURE, self.units, 1)} ({origin})")
        if self.tan is not None:
            rows.append(f"total ammonia {self.tan.value:.2g} mg/L as N ({self.tan.origin})")
        else:
            rows.append("total ammonia not known, or the test is older than three days")
        if self.calcium is not None:
            rows.append(f"calcium {self.calcium.value:.2f} mmol/L ({self.calcium.origin})")
        return tuple(rows)

    def values(self) -> dict[str, dict[str, float | str]]:
        """The same as figures for machines; what is not known is not there."""
        facts = {
            "volume_l": self.litres, "alkalinity_meq_l": self.kh, "ph": self.ph, "dusk_ph": self.dusk_ph,
            "dawn_ph": self.dawn_ph, "temperature_c": self.celsius, "tan_mg_l": self.tan,
            "calcium_mmol_l": self.calcium,
        }  # fmt: skip
        found: dict[str, dict[str, float | str]] = {
            name: {"value": round(fact.value, 4), "from": fact.source}
            for name, fact in facts.items()
            if fact is not None
        }
        if self.kh is not None:
            found["alkalinity_meq_l"]["least"] = round(self.low, 4)
        return found
