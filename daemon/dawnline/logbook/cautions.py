"""What to mind with what is put into a pond, said back when it is noted. No leave to use anything.

Sources: UF/IFAS Extension fact sheets on copper, formalin and potassium permanganate in fish ponds (their sense, from
memory; the one on permanganate was seen in part: never together with formalin); Noga, Fish Disease (from memory) for
chloramine-T, malachite green, organophosphates and peroxide.
"""

from __future__ import annotations

from typing import Final

LABEL: Final = "Follow the product's label and your law; a fish vet knows more."
_AIR: Final = "Run all the air you have."

# Words by which a product is known, and what to mind.
_CAUTIONS: Final[tuple[tuple[tuple[str, ...], str], ...]] = (
    (
        ("copper", "cuso4", "bluestone", "kupfer"),
        "Copper is far more poisonous in soft, acid water: below 50 mg/L CaCO3 (about 3 dKH) it is not to be used; "
        "between a working and a deadly dose lies little. Dying algae take the oxygen.",
    ),
    (
        ("formalin", "formaldehyde", "fmg", "fmc"),
        "Formalin takes oxygen out of the water, most of all in warm water and at a bloom: not above 27 degC, not with "
        "white flakes in the bottle, and never together with permanganate.",
    ),
    (
        ("malachite",),
        "Malachite green is more poisonous in warm and in acid water, and forbidden for fish that are eaten.",
    ),
    (
        ("permanganate", "kmno4"),
        "Permanganate burns gills, more so at high pH and in warm water; never together with formalin. It takes oxygen "
        "as it kills algae.",
    ),
    (
        ("chloramine", "chloramin t", "halamid"),
        "Chloramine-T is far more poisonous in soft and acid water: its dose goes by pH and hardness, and below pH 6.5 "
        "it is best left alone.",
    ),
    (
        ("trichlorfon", "dichlorvos", "organophosph", "dylox", "masoten"),
        "Organophosphates are more poisonous in warm water, and at high pH turn into something stronger.",
    ),
    (("peroxide", "peracetic"), "Peroxides burn gills, more so in warm water; the filter's bacteria suffer too."),
    (("acriflavin", "methylene"), "Dyes such as this one harm the bacteria of the filter: test ammonia for two weeks."),
    (
        ("antibiotic", "oxytetracycline", "tetracycline", "nitrofur", "enrofloxacin"),
        "Antibiotics in the water stop the filter's bacteria: test ammonia daily. In many countries they need a vet.",
    ),
    (("salt", "nacl"), "Salt does no harm to buffer and filter in usual doses; raise it over days."),
)
_UNKNOWN: Final = (
    "Many treatments are more dangerous in soft, acid or warm water, and many stop the filter: look for what the label "
    "says on KH, pH and temperature."
)


def of_medication(what: str) -> str:
    """What to mind with a treatment of this name.

    >>> of_medication("Formalin 37 %").split(":")[0]
    'Formalin takes oxygen out of the water, most of all in warm water and at a bloom'
    """
    name = what.lower().replace("-", "")
    known = [text for words, text in _CAUTIONS if any(word in name for word in words)]
    return " ".join([*(known or [_UNKNOWN]), _AIR, LABEL])


def of_algaecide(what: str) -> str:
    """What to mind with something against algae."""
    name = what.lower()
    known = [text for words, text in _CAUTIONS if any(word in name for word in words)]
    dying = "Dying algae take the oxygen, mostly in the second and third night: air on, watch the dawn lows."
    return " ".join([*known, dying, LABEL])
