"""The quantities of a pond, each with its units and the source of each factor.

Exact by definition: the inch (25.4 mm) and the avoirdupois pound (453.59237 g; an ounce is a sixteenth) by the
international yard and pound agreement of 1959; the US gallon, 231 cubic inches; the imperial gallon, 4.54609 L (UK
Weights and Measures Act 1985); a US cup is a sixteenth of a US gallon, a tablespoon a sixteenth of a cup, a teaspoon
a third of that (NIST Handbook 44, Appendix C; all from memory). degC from degF: (F - 32) 5/9. Hardness and alkalinity:
water/units.py. Nitrogen: N 14.007, H 1.008, O 15.999 g/mol (IUPAC, abridged, from memory). ppm are mg/L, in water of
1 kg/L.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final

from dawnline.typed.measure import Measure, Unit, per_day, unit
from dawnline.water.units import ALKALINITY_UNITS, HARDNESS_UNITS

_US_GAL, _IMP_GAL = Fraction("3.785411784"), Fraction("4.54609")
_N, _H, _O = Fraction("14.007"), Fraction("1.008"), Fraction("15.999")
_NH3, _NH4, _NO2, _NO3 = _N + 3 * _H, _N + 4 * _H, _N + 2 * _O, _N + 3 * _O
_LB = Fraction("453.59237")

_SAY_WHICH = {
    word: f'"{{}} US {name}" or "{{}} imp {name}"'
    for name, words in {
        "gal": ("gal", "gals", "gallon", "gallons"),
        "qt": ("qt", "qts", "quart", "quarts"),
        "pt": ("pt", "pts", "pint", "pints"),
        "cup": ("cup", "cups"),
        "fl oz": ("floz", "fluidounce", "fluidounces"),
    }.items()
    for word in words
}


def _us_and_imperial(name: str, gallons: Fraction, *words: str) -> tuple[Unit, Unit]:
    """A measure that is a part of a gallon: without a word for it, the US one."""
    both = (name, *words)
    us = tuple(f"{word}{each}" for word in ("us", "u.s.", "american ") for each in both)
    imperial = tuple(f"{word}{each}" for word in ("imp", "imperial", "uk", "british ") for each in both)
    return (
        Unit(name, gallons * _US_GAL, (*words, *us)),
        Unit(f"imp {name}", gallons * _IMP_GAL, imperial),
    )


VOLUME: Final = Measure(
    "a volume",
    "L",
    (
        unit("L", 1, "litre", "litres", "liter", "liters", "ltr", "ltrs"),
        unit("mL", "0.001", "millilitre", "millilitres", "milliliter", "milliliters", "cc", "ccm"),
        unit("cL", "0.01", "centilitre", "centilitres", "centiliter", "centiliters"),
        unit("m3", 1000, "cbm", "cubic metre", "cubic metres", "cubic meter", "cubic meters"),
        unit("ft3", "28.316846592", "cu ft", "cuft", "cubic foot", "cubic feet"),
        *_us_and_imperial("gal", Fraction(1), "gals", "gallon", "gallons"),
        *_us_and_imperial("qt", Fraction(1, 4), "qts", "quart", "quarts"),
        *_us_and_imperial("pt", Fraction(1, 8), "pts", "pint", "pints"),
        *_us_and_imperial("cup", Fraction(1, 16), "cups"),
        unit("metric cup", "0.25", "metric cups"),
        # An imperial fluid ounce is a 160th of its gallon, a US one a 128th.
        unit("fl oz", _US_GAL / 128, "us fl oz", "fluid ounce", "fluid ounces", "us fluid ounce", "us fluid ounces"),
        unit("imp fl oz", _IMP_GAL / 160, "uk fl oz", "imperial fl oz", "imperial fluid ounces"),
        unit("tbsp", _US_GAL / 256, "tbsps", "tablespoon", "tablespoons"),
        unit("tsp", _US_GAL / 768, "tsps", "teaspoon", "teaspoons"),
    ),
    ("300 gal", "250 imp gal", "1100 L", "1.1 m3"),
    ambiguous={
        "oz": '"{} fl oz" (a volume) or "{} oz wt" (a weight)',
        "ounce": '"{} fl oz" (a volume) or "{} oz wt" (a weight)',
        "ounces": '"{} fl oz" (a volume) or "{} oz wt" (a weight)',
        "bucket": "the bucket's size times how many, such as 10 L",
        "buckets": "the bucket's size times how many, such as 10 L",
    },
    home_only=_SAY_WHICH,
    thousands=True,
)

LIQUID: Final = replace(VOLUME, examples=("250 mL", "1/4 cup", "8 fl oz"))  # what is put into a pond

_MASSES: Final = (
    unit("g", 1, "gram", "grams", "gramme", "grammes", "gm", "gms"),
    unit("mg", "0.001", "milligram", "milligrams"),
    unit("kg", 1000, "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    unit("t", 1_000_000, "tonne", "tonnes", "metric ton", "metric tons"),
    unit("lb", _LB, "lbs", "pound", "pounds"),
    unit("oz", _LB / 16, "ounce", "ounces", "oz wt", "oz weight"),
)
MASS: Final = Measure(
    "a mass",
    "g",
    _MASSES,
    ("200 g", "5 kg", "10 lb", "8 oz wt"),
    ambiguous={
        "ton": '"{} tonnes" (1000 kg), or the weight in lb',
        "tons": '"{} tonnes" (1000 kg), or the weight in lb',
        "gr": '"{} g" (a grain is 0.065 g)',
        "bag": "the weight on the bag, such as 20 kg",
        "bags": "the weight on the bags together, such as 40 kg",
        "scoop": "what a scoop weighs, such as 60 g",
        "scoops": "what the scoops weigh together, such as 60 g",
        "handful": "what it weighs, such as 40 g",
        "handfuls": "what it weighs, such as 40 g",
    },
)
FEED_RATE: Final = Measure(
    "feed a day",
    "g/day",
    per_day(_MASSES),
    ("120 g/day", "4 oz/day"),
    ambiguous={
        **{
            word: f'"{{}} {name}/day": what the fish get a day, all meals together'
            for name in ("g", "kg", "oz", "lb")
            for unit_ in _MASSES
            if unit_.name == name
            for word in (name, *unit_.spellings)
        },
        "cup": "what it weighs, such as 120 g/day",
        "cups": "what it weighs, such as 120 g/day",
    },
)

_DEGREES: Final = '"{} dKH" (German), "{} fH" (French) or "{} eH" (English)'
_DKH = Fraction(1) / Fraction(ALKALINITY_UNITS["dKH"])


def _kh(name: str) -> Fraction:
    return Fraction(ALKALINITY_UNITS[name]) * _DKH


def _gh(name: str) -> Fraction:
    return Fraction(HARDNESS_UNITS[name]) / Fraction(HARDNESS_UNITS["dGH"])


_CACO3 = ("mg/l caco3", "ppm", "ppm caco3", "mg caco3/l", "mg/l calcium carbonate")
_FRENCH = ("french degrees", "degrees french", "degrees fH", "deg fH")
_ENGLISH = ("clark", "degrees clark", "clark degrees", "english degrees")
_GRAINS = ("grains/gal", "grains/gallon", "gr/gal")
ALKALINITY: Final = Measure(
    "a KH (alkalinity)",
    "dKH",
    (
        Unit("dKH", Fraction(1), ("kh", "dh", "d", "deg dKH", "degrees dKH", "degrees KH", "deg KH", "german degrees")),
        Unit("meq/L", _kh("meq/L"), ("mval/l", "meq", "milliequivalents/l")),
        # Standard Methods 2320 gives alkalinity as CaCO3, and so do strips and kits that count in mg/L (from memory).
        Unit("ppm", _kh("ppm"), (*_CACO3, "mg/l")),
        Unit("mg/L HCO3", _kh("mg/L HCO3"), ("ppm hco3", "mg/l bicarbonate", "ppm bicarbonate", "mg hco3/l")),
        Unit("fH", _kh("fH"), ("tac", *_FRENCH)),
        Unit("eH", _kh("eH"), _ENGLISH),
        Unit("gpg", _kh("gpg"), _GRAINS),
    ),
    ("6 drops", "6 dKH", "107 ppm", "2.1 meq/L"),
    ambiguous={
        "": f'"{{}} drops" as the kit counts, {_DEGREES}',
        "deg": _DEGREES,
        "degree": _DEGREES,
        "degrees": _DEGREES,
        "mmol/l": '"{} meq/L" where a laboratory gives acid capacity to pH 4.3',
        "dgh": "the KH: it does not follow from the GH",
        "gh": "the KH: it does not follow from the GH",
    },
    dropwise=True,
)  # fmt: skip
HARDNESS: Final = Measure(
    "a GH (hardness)",
    "dGH",
    (
        Unit("dGH", Fraction(1), ("gh", "dh", "d", "deg dGH", "degrees dGH", "degrees GH", "deg GH", "german degrees")),
        Unit("ppm", _gh("ppm"), (*_CACO3, "mg/l")),
        Unit("mmol/L", _gh("mmol/L"), ("mmol/l caco3",)),
        Unit("meq/L", _gh("meq/L"), ("mval/l",)),
        Unit("mg/L Ca", _gh("mg/L Ca"), ("ppm ca", "mg/l calcium", "ppm calcium")),
        Unit("fH", _gh("fH"), ("th", *_FRENCH)),
        Unit("eH", _gh("eH"), _ENGLISH),
        Unit("gpg", _gh("gpg"), _GRAINS),
    ),
    ("8 drops", "8 dGH", "143 ppm", "1.4 mmol/L"),
    ambiguous={
        **dict.fromkeys(("", "deg", "degree", "degrees"), _DEGREES.replace("dKH", "dGH")),
        "dkh": "the GH: it does not follow from the KH",
        "kh": "the GH: it does not follow from the KH",
    },
    dropwise=True,
)  # fmt: skip

PH: Final = Measure("a pH", "pH", (unit("pH", 1, "units"),), ("7.4",), bare=True)
TEMPERATURE: Final = Measure(
    "a temperature",
    "degC",
    (
        unit("degC", 1, "c", "celsius", "deg celsius", "degrees celsius", "degrees c", "centigrade"),
        unit("degF", "5/9", "f", "fahrenheit", "deg fahrenheit", "degrees fahrenheit", "degrees f", zero=32),
    ),
    ("18.5C", "65F"),
    ambiguous=dict.fromkeys(("", "deg", "degree", "degrees"), '"{} C" or "{} F"'),
)


def _solute(
    name: str, base: str, formulas: dict[str, Fraction], which: tuple[str, ...], *, also: tuple[str, ...] = ()
) -> Measure:
    """mg/L of a nitrogen compound, said as what: a bare mg/L is refused, since kits differ by the factor between."""
    return Measure(
        name,
        f"mg/L {base}",
        tuple(
            Unit(
                f"mg/L {formula}",
                factor,
                tuple(
                    f"{per} {word}" for per in ("mg/l", "ppm") for word in (formula, *(also if formula == "N" else ()))
                ),
            )
            for formula, factor in formulas.items()
        ),
        which,
        ambiguous=dict.fromkeys(("", "mg/l", "ppm"), _as_which(formulas)),
    )


def _as_which(formulas: dict[str, Fraction]) -> str:
    return " or ".join(f'"{{}} mg/L {formula}"' for formula in formulas) + ", as the kit's sheet says"


AMMONIA: Final = _solute(
    "a total ammonia (TAN)",
    "N",
    {"N": Fraction(1), "NH4": _N / _NH4, "NH3": _N / _NH3},
    ("0.5 mg/L N", "0.5 mg/L NH4", "0.5 mg/L NH3"),
    also=("nh3-n", "nh4-n", "tan", "nitrogen", "ammonia-n", "ammonia nitrogen"),
)
TAN: Final = Measure(
    "a total ammonia nitrogen (TAN)",
    "mg/L N",
    (Unit("mg/L N", Fraction(1), ("mg/l", "ppm", "ppm n", "mg/l tan", "ppm tan", "mg/l nh3-n", "mg/l nh4-n")),),
    ("0.4 mg/L",),
    ambiguous=dict.fromkeys(
        ("mg/lnh3", "mg/lnh4", "ppmnh3", "ppmnh4"), 'ammonia="..." with this unit: tan is nitrogen by its name'
    ),
)
NITRITE: Final = _solute(
    "a nitrite", "NO2", {"NO2": Fraction(1), "N": _NO2 / _N}, ("0.3 mg/L NO2", "0.1 mg/L N"), also=("no2-n", "nitrogen")
)
NITRATE: Final = _solute(
    "a nitrate", "NO3", {"NO3": Fraction(1), "N": _NO3 / _N}, ("20 mg/L NO3", "5 mg/L N"), also=("no3-n", "nitrogen")
)
OXYGEN: Final = Measure(
    "a dissolved oxygen",
    "mg/L",
    (unit("mg/L", 1, "ppm", "mg/l o2", "ppm o2", "mg/l do"),),
    ("8.2 mg/L",),
    ambiguous={
        "%": "it in mg/L, as meters can: a share of saturation is none yet",
        "%sat": "it in mg/L, as meters can",
    },
)
DEPTH: Final = Measure(
    "a depth of rain",
    "mm",
    (
        unit("mm", 1, "millimetre", "millimetres", "millimeter", "millimeters", "l/m2", "l/m²"),
        unit("cm", 10, "centimetre", "centimetres", "centimeter", "centimeters"),
        unit("in", "25.4", "inch", "inches", '"'),
    ),
    ("20 mm", "0.8 in"),
)
LENGTH: Final = Measure(
    "a length",
    "cm",
    (
        unit("cm", 1, "centimetre", "centimetres", "centimeter", "centimeters"),
        unit("mm", "0.1", "millimetre", "millimetres", "millimeter", "millimeters"),
        unit("m", 100, "metre", "metres", "meter", "meters"),
        unit("in", "2.54", "inch", "inches", '"'),
        unit("ft", "30.48", "foot", "feet"),
    ),
    ("45 cm", "18 in"),
)
SHARE: Final = Measure(
    "a share",
    "",
    (unit("%", "0.01", "percent", "per cent", "pct", "prozent"),),
    ("15%",),
)
PERCENT: Final = Measure(
    "a percentage", "%", (unit("%", 1, "percent", "per cent", "pct", "prozent"),), ("38%",), bare=True
)

MEASURES: Final = (
    VOLUME, MASS, FEED_RATE, ALKALINITY, HARDNESS, PH, TEMPERATURE, AMMONIA, TAN, NITRITE, NITRATE, OXYGEN, DEPTH,
    LENGTH, SHARE, PERCENT,
)  # fmt: skip
