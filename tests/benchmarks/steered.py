"""Starts a command of dawnline with a wall clock that a benchmark steers: its pace, and steps forward and back.

    python tests/benchmarks/steered.py CLOCK --config dawnline.toml run

`time.time` and `time.time_ns` are read from the file CLOCK; monotonic time stays the machine's. So pond time runs fast,
or jumps, in the very process that runs on a board, which is told nothing of it.
"""

from __future__ import annotations

import mmap
import struct
import sys
import time
from pathlib import Path

_real = time.time
_SLOT = struct.Struct("ddd")  # machine time and pond time of the same moment [s], pond seconds in a second
_FIRST, _SIZE = 8, 8 + 2 * _SLOT.size


class Clock:
    """The file. Two slots and the number of the one that holds, so that no reader ever sees half of a change."""

    def __init__(self, path: Path) -> None:
        if not path.exists():
            path.write_bytes(bytes(_SIZE))
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), _SIZE)

    def set(self, machine_s: float, pond_s: float, rate: float) -> None:
        """From now on."""
        other = 1 - self._map[0]
        _SLOT.pack_into(self._map, _FIRST + other * _SLOT.size, machine_s, pond_s, rate)
        self._map[0] = other

    def time(self) -> float:
        """The time of day [Unix s]."""
        machine_s, pond_s, rate = _SLOT.unpack_from(self._map, _FIRST + self._map[0] * _SLOT.size)
        return float(pond_s + (_real() - machine_s) * rate)


def main() -> int:
    """Run the command."""
    clock = Clock(Path(sys.argv.pop(1)))
    time.time = clock.time
    time.time_ns = lambda: int(clock.time() * 1e9)
    from dawnline.cli import main as command

    return command()


if __name__ == "__main__":
    sys.exit(main())
