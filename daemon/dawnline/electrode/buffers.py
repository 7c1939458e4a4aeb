"""Buffer solutions: their pH by temperature, from published tables; the keeper's own bottle wins over them.

Technical buffers: Invensys Foxboro, MI 611-211 (October 2005), table 7. Primary standards: pH(S) of the IUPAC
compositions (Buck et al., Pure Appl. Chem. 74 (2002) 2169), as in the header CN0398.h of Analog Devices' reference
design CN0398; they agree to 0.01 with Ph. Eur. 5.0, table 2.2.3-2. Between the table's temperatures the value is
interpolated; outside there is none.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dawnline.errors import InputError


@dataclass(frozen=True, slots=True)
class Buffer:
    """One solution. `table` holds (temperature [degC], pH), rising in temperature, two rows at least."""

    name: str
    table: tuple[tuple[float, float], ...]
    source: str = "the bottle"

    def ph(self, temperature_c: float) -> float:
        """pH at this temperature [degC]. Raises InputError outside the table.

        >>> BUFFERS["10.01"].ph(22.5)
        10.035
        """
        low, high = self.table[0][0], self.table[-1][0]
        if not low <= temperature_c <= high:
            raise InputError(
                f"buffer {self.name}: its values are known from {low:g} to {high:g} degC, not at {temperature_c:g}: "
                "let the buffer warm up or cool down"
            )
        right = max(1, bisect_left(self.table, (temperature_c, float("-inf"))))
        (t0, ph0), (t1, ph1) = self.table[right - 1], self.table[right]
        return round(ph0 + (ph1 - ph0) * (temperature_c - t0) / (t1 - t0), 6)

    @property
    def nominal(self) -> float:
        """pH at 25 degC, by which bottles are named; else that of the nearest temperature in the table."""
        return self.ph(min(max(25.0, self.table[0][0]), self.table[-1][0]))


_TECHNICAL_C: Final = (0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50)
_TECHNICAL: Final = {
    "4.00": (4.00, 4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03, 4.04, 4.06),
    "7.00": (7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98, 6.98, 6.97),
    "10.01": (10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.86, 9.83),
}
_PRIMARY_C: Final = (0, 5, 10, 15, 18, 20, 25, 30, 35, 37, 40, 45, 50)
_PRIMARY: Final = {
    "phthalate": (4.000, 3.998, 3.997, 3.998, 3.999, 4.001, 4.005, 4.011, 4.018, 4.022, 4.027, 4.038, 4.050),
    "phosphate": (6.984, 6.951, 6.923, 6.900, 6.888, 6.881, 6.865, 6.853, 6.844, 6.841, 6.838, 6.834, 6.833),
    "phosphate-7.4": (7.534, 7.500, 7.472, 7.448, 7.436, 7.429, 7.413, 7.400, 7.389, 7.386, 7.380, 7.373, 7.367),
    "borax": (9.464, 9.395, 9.332, 9.276, 9.245, 9.225, 9.180, 9.139, 9.102, 9.088, 9.068, 9.038, 9.010),
    "carbonate": (10.317, 10.245, 10.179, 10.118, 10.084, 10.062, 10.012, 9.966, 9.925, 9.910, 9.889, 9.857, 9.828),
}  # fmt: skip


def _table(degrees: Sequence[int], values: Sequence[float]) -> tuple[tuple[float, float], ...]:
    return tuple((float(t), ph) for t, ph in zip(degrees, values, strict=True))


BUFFERS: Final[dict[str, Buffer]] = {
    **{name: Buffer(name, _table(_TECHNICAL_C, row), "Foxboro MI 611-211") for name, row in _TECHNICAL.items()},
    **{name: Buffer(name, _table(_PRIMARY_C, row), "IUPAC 2002") for name, row in _PRIMARY.items()},
}
"""What is shipped, by name: the technical buffers first."""


def find_buffers(words: str, own: Sequence[Buffer] = ()) -> list[Buffer]:
    """The buffers of a list: commas between them, or spaces where no name has any. Raises as `find_buffer`.

    >>> [buffer.name for buffer in find_buffers("7, 10")]
    ['7.00', '10.01']
    """
    named = {buffer.name for buffer in own}
    parts = [part.strip() for part in words.split(",")]
    return [find_buffer(word, own) for part in parts for word in ([part] if part in named else part.split())]


def find_buffer(word: str, own: Sequence[Buffer] = ()) -> Buffer:
    """The buffer of this name or this pH at 25 degC ("7", "6.865"), the keeper's own first.

    Raises InputError that lists those there are.

    >>> find_buffer("10").name, find_buffer("9.18").name
    ('10.01', 'borax')
    """
    known = [*own, *BUFFERS.values()]
    for buffer in known:
        if buffer.name == word:
            return buffer
    try:
        value = float(word)
    except ValueError:
        value = float("nan")
    for within in (0.0005, 0.0051, 0.011 if value in (4.0, 7.0, 10.0) else 0.0):
        for buffer in known:
            if abs(buffer.nominal - value) <= within:
                return buffer
    raise InputError(f"no buffer is known as {word!r}; there are: {', '.join(b.name for b in known)}")
