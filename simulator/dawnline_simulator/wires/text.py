"""The serial text protocol as its description has it: one reading a line, `name=value` pairs, ASCII,
newline.
"""

from __future__ import annotations

from dawnline_simulator.dice import Dice
from dawnline_simulator.simulate import Row


def line(row: Row) -> bytes:
    r"""The bytes of one reading, both values with two decimals; with a gauge its millimetres.

    >>> from dawnline_simulator.simulate import Truth
    >>> line(Row(0, 7.1234, 18.375, "whole", Truth(7.1, 18.4, 1.0, 100.0), ""))
    b'ph=7.12 temp=18.38\n'
    """
    rain = "" if row.rain is None else f" rain={row.rain:.1f}"
    return f"ph={row.ph:.2f} temp={row.water:.2f}{rain}\n".encode("ascii")


def garbage(dice: Dice) -> bytes:
    """What a wet plug makes of a line: 4 to 40 bytes of anything, at times with a newline among them."""
    return bytes(int(dice.random() * 256) for _ in range(int(dice.uniform(4.0, 41.0))))
