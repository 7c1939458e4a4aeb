"""What may be put into a pond to move its pH or KH, and what never: by the names people use."""

from __future__ import annotations

from typing import Final

from dawnline.dosing.plan import Refusal

BICARBONATE: Final = ("sodium bicarbonate", "bicarbonate", "baking soda", "bicarb", "natron", "nahco3")
VINEGAR: Final = ("white vinegar", "vinegar")
_STRONG_ACIDS: Final = (
    "hydrochloric", "muriatic", "hcl", "sulphuric", "sulfuric", "battery acid", "h2so4", "nitric", "phosphoric",
    "bisulphate", "bisulfate", "bisulphite", "bisulfite", "ph minus", "ph-minus", "ph down", "oxalic",
)  # fmt: skip
_STRONG_BASES: Final = (
    "lye", "caustic", "sodium hydroxide", "naoh", "potassium hydroxide", "koh", "soda ash", "washing soda",
    "sodium carbonate", "na2co3", "soda crystals", "quicklime", "quick lime", "slaked lime", "hydrated lime",
    "calcium hydroxide", "ca(oh)2", "lime", "ammonia", "bleach", "ph plus", "ph-plus", "ph up",
)  # fmt: skip
_BUFFERS: Final = ("buffer", "carbonate", "alkal", "kh")  # and what products are called
_BAKING_POWDER: Final = ("baking powder",)
_STONES: Final = ("limestone", "shell", "coral", "calcite", "calcium carbonate", "chalk", "oyster", "marble")


def is_acid(name: str) -> bool:
    """Whether what somebody put in takes buffer away, as far as its name tells."""
    word = name.strip().lower()
    return any(each in word for each in (*_STRONG_ACIDS, *VINEGAR, "acid"))


def raises_ph(name: str) -> bool:
    """Whether what somebody put in raises pH, as far as its name tells.

    >>> [raises_ph(name) for name in ("baking soda", "KH plus", "white vinegar", "plant food", "soda ash")]
    [True, True, False, False, True]
    """
    word = name.strip().lower()
    return not is_acid(name) and any(each in word for each in (*BICARBONATE, *_STRONG_BASES, *_BUFFERS))


def is_strong_base(name: str) -> bool:
    """Whether it is one that takes pH beyond 10 where it falls in, as far as its name tells."""
    word = name.strip().lower()
    return any(each in word for each in _STRONG_BASES)


def raising(name: str) -> Refusal | None:
    """Why this may not be used to raise KH; None for sodium bicarbonate."""
    word = name.strip().lower()
    if word in BICARBONATE:
        return None
    instead = "sodium bicarbonate (baking soda), by weight, dissolved first: a solution of it stays near pH 8.3"
    if any(each in word for each in _BAKING_POWDER):
        return Refusal("baking powder holds acid and starch beside bicarbonate", instead)
    if any(each in word for each in _STONES):
        return Refusal(
            f"{name} dissolves over weeks, as far as the water lets it: no dose of it reaches a target", instead
        )
    if is_strong_base(name):
        why = f"{name} is a strong base: it burns fish and hands, and takes pH beyond 10 where it falls in"
        return Refusal(why, instead)
    if is_acid(name):
        return Refusal(f"{name} is an acid: it uses up KH", instead)
    return Refusal(f"{name!r} is not known here", instead)


def lowering(name: str) -> Refusal | None:
    """Why this may not be used against a high pH; None for white vinegar."""
    word = name.strip().lower()
    if word in VINEGAR:
        return None
    instead = "shade and more air; as the very last resort white vinegar of 5 %, under the conditions of this command"
    if any(each in word for each in _STRONG_ACIDS):
        why = f"{name} is a strong acid: it burns people and fish, and takes the buffer for good, so that pH can crash"
        return Refusal(why, instead)
    if any(each in word for each in (*_STRONG_BASES, *BICARBONATE)):
        return Refusal(f"{name} raises pH", instead)
    return Refusal(f"{name!r} is not for this: malt vinegar, essence and other acids bring more than acid", instead)
