"""Ragged: a slow probe that comes up from one reading to the next, and has not lain still since.

Acid and breath take pH down one way, and then it lies where it is; what they took comes back over hours. A probe in the
air or on a bad plug goes up and down by far more than it trembles in health, and between readings minutes apart that is
all there is to tell the two apart. So a fall and a low of a slow probe are believed at once as long as it goes one way;
once it has come up, not before it has lain still for some readings, as it did in health. Single odd readings are no
rest, and no end of one. Common practice, no source; set on simulated faults and doses of acid.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.quality.noise import Noise
from dawnline.quality.step import COMES_UP
from dawnline.state import Stateful

RISE: Final[dict[str, float]] = {"ph": 0.06, "electrode_mv": 3.5}  # from one reading to the next, or
TIMES_USUAL: Final = 4.0  # times what it usually trembles by, or
GRAINS: Final = 1.2  # one count of its converter, or `COMES_UP` of a leap down
HELD_MS: Final = HOUR_MS  # what it did counts for so long,
HELD: Final = 12  # or so many readings
LATELY: Final = 4  # readings
MOST: Final = 3  # moves up, and as many down, among the readings held: water does not,
WIDER: Final = 2.0  # where they are so many times as large as one that is waited for,
TIMES_MOST: Final = 6.0  # and as what it trembled by on the worst of these days
STILL: Final = (5, 8)  # readings that differ by less from one to the next: it has settled; the second of tenths,
LONG_STILL: Final = 12  # and whatever it was before
SPIKE: Final = 0.2  # of a move: so near does a spike come back with the next reading
GAP: Final = 3  # intervals, beyond which nothing is known of what lies between


class Ragged(Stateful):
    """Follows one series; feed it every value inside the instrument's span, in order of time."""

    KEPT = ("latest", "rose_at", "rose_before", "wide_at", "still", "coarse", "moves")

    def __init__(self, quantity: str) -> None:
        self.floor = RISE.get(quantity, float("inf"))
        self.latest: deque[tuple[int, float]] = deque(maxlen=LONG_STILL + 1)
        self.rose_at: int | None = None  # when it last came up so [ms],
        self.rose_before: int | None = None  # and when before its last reading, which may be a spike
        self.wide_at: int | None = None  # when it last came up as on no day of these weeks [ms]
        self.still = 0  # readings in a row that differ by less
        self.moves: deque[int] = deque(maxlen=HELD)  # 1 where it moved up by more, -1 where down
        self.coarse = False  # one count is more than a rise need be

    def forget(self) -> None:
        """Begin anew."""
        self.latest.clear()
        self.moves.clear()
        self.rose_at, self.rose_before, self.wide_at, self.still = None, None, None, 0

    def push(self, at: int, value: float, interval: int | None, noise: Noise, leap: float) -> None:
        """Take a value measured at `at` [ms].

        `noise` knows how the probe usually trembles, and one count of its converter; `leap` is how far it leapt lately.
        """
        if interval is None or interval <= MINUTE_MS:
            return
        latest = self.latest
        if latest and at - latest[-1][0] > GAP * interval:
            latest.clear()
            self.moves.clear()
        latest.append((at, value))
        if len(latest) < 2:
            self.still = 0
            return
        count, moved = GRAINS * (noise.grain or 0.0), value - latest[-2][1]
        least = max(self.floor, TIMES_USUAL * noise.usual(), count, -COMES_UP * leap)
        came_back = len(latest) > 2 and abs(value - latest[-3][1]) <= min(least, SPIKE * abs(moved))
        wide = max(WIDER * self.floor, count, TIMES_MOST * noise.usual_at(interval))
        self._see_move(moved, wide, came_back=came_back)
        if came_back:  # the reading before was a spike
            self.rose_at = self.rose_before
            self.wide_at = None if self.wide_at == latest[-2][0] else self.wide_at
        elif moved > least:
            self.rose_before, self.rose_at = self.rose_at, at
            self.wide_at = at if moved > wide else self.wide_at
        else:
            self.rose_before = self.rose_at
        self.coarse = count > self.floor
        self.still = _still([value for _, value in latest], least)

    def comes_up(self, at: int, interval: int) -> bool:
        """Whether it has come up within its latest readings."""
        return self.rose_at is not None and at - self.rose_at < LATELY * interval

    def is_ragged(self, at: int, interval: int) -> bool:
        """Whether it came up within the last hour (twelve readings), and has not settled since."""
        lately = self.rose_at is not None and at - self.rose_at <= max(HELD_MS, HELD * interval)
        return lately and not self.settled

    def goes_one_way(self, at: int, interval: int | None) -> bool:
        """Whether it is a slow probe that has not come up so lately, or has settled since."""
        return interval is not None and interval > MINUTE_MS and not self.is_ragged(at, interval)

    def _see_move(self, moved: float, least: float, *, came_back: bool) -> None:
        """Remember a move; a spike, which comes back with the next reading, is none."""
        if came_back and self.moves:
            self.moves[-1] = 0
        self.moves.append(0 if came_back else (moved > least) - (moved < -least))

    @property
    def noisy(self) -> bool:
        """Whether it goes up and down again and again."""
        moves = self.moves
        return moves.count(1) >= MOST and moves.count(-1) >= MOST

    @property
    def settled(self) -> bool:
        """Whether it lies still."""
        return self.still >= STILL[self.coarse]

    def long_settled(self, since: int = 0) -> bool:
        """Whether it has lain still for so long, and all of it after `since` [ms], that it is the water."""
        return self.still >= LONG_STILL and self.latest[-LONG_STILL][0] > since


def _still(values: list[float], least: float) -> int:
    """How many of the newest readings lie still; one odd one among them is left out, and not counted.

    >>> _still([8.0, 6.0, 6.01, 6.0, 7.0, 6.02], 0.06), _still([8.0, 6.0, 6.01], 0.06)
    (4, 2)
    """
    count, last, left_out = 1, values[-1], False
    older = values[-2::-1]
    for i, value in enumerate(older):
        if abs(value - last) <= least:
            count, last = count + 1, value
        elif not left_out and i + 1 < len(older) and abs(older[i + 1] - last) <= least:
            left_out = True
        else:
            break
    return count
