"""What a check says of a reading: a flag and the reason for it."""

from __future__ import annotations

from typing import Final, TypeAlias

from dawnline.reading import Flag, Reason

Verdict: TypeAlias = tuple[Flag, Reason]

GOOD: Final[Verdict] = (Flag.GOOD, Reason.NONE)
NOT_EVALUATED: Final[Verdict] = (Flag.NOT_EVALUATED, Reason.NONE)

_PRECEDENCE: Final = {Flag.MISSING: 0, Flag.NOT_EVALUATED: 1, Flag.GOOD: 2, Flag.SUSPECT: 3, Flag.FAIL: 4}


def worst(one: Verdict, other: Verdict) -> Verdict:
    """The verdict that counts: missing, not evaluated, good, suspect, fail, from the weakest to the strongest.

    The order of ioos_qc 3.0.0 `qartod_compare`: a check that cannot judge hides nothing that another says. Of two
    equal flags the first stands.

    >>> worst(NOT_EVALUATED, GOOD) == GOOD, worst((Flag.FAIL, Reason.FLAT), (Flag.SUSPECT, Reason.SPIKE))[0].name
    (True, 'FAIL')
    """
    return other if _PRECEDENCE[other[0]] > _PRECEDENCE[one[0]] else one
