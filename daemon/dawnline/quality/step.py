"""Step: a level that shifts within one reading and then stays, as no pond does.

Water mixes over minutes and a glass electrode answers over tens of seconds, so between readings at most three quarters
of a minute apart a true change shows values on its way. A bumped electrode, a leaking connector or a converter that
starts anew shows none: flat, a jump, flat. A minute apart that goes for a large shift without a shoulder: no pond is
mixed within a minute, and a pump turns its water over in an hour or two. Until the level comes back, the probe is seen
to, or a day has passed, the shift is known as the instrument's (`offset`); readings less the offset go on telling how
the water moves. It is so for another day, a week at most, where the same hour finds the water, less the shift, where it
was: acid would have come half of its way back by then, as its carbon dioxide leaves. With readings further apart a
step is only wondered at: nothing is taken off. A large leap between two of them, whatever follows it, is remembered
(`leapt`): who trembles after it is ill, and who goes on smoothly may be acid.

Spike (QARTOD) looks at single readings; this looks at two levels. Thresholds: common practice, no source; set on
simulated faults and on public records.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from operator import itemgetter
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.state import Stateful

BEFORE: Final = 5  # readings of the old level
AFTER: Final = 3  # readings of the new one
SURE_GAP_MS: Final = 45_000
SHARP_GAP_MS: Final = 75_000  # with readings a minute apart a large, sharp step is sure, too
SHARP_LEAST: Final = 3.5  # in units of LEAST
SHARP_SHARE: Final = 0.08  # of the shift, by which the readings around it may differ from their levels,
SHARP_COUNTS: Final = 5.0  # or by one count of the converter where the shift is so many
GAP_MS: Final = 2 * MINUTE_MS
SLOW_GAP_MS: Final = 20 * MINUTE_MS
SLOW_LEAST: Final = 3.5  # in units of LEAST, with readings further apart than `GAP_MS`
SLOW_FLAT_SHARE: Final = 0.2
HAIR: Final = 1e-9  # what a sum of decimals may be off by
LEAP: Final = 4.5  # in units of LEAST, between all five readings before and all three after
COMES_UP: Final = 0.04  # of a leap down: acid, too, comes up a little when it is mixed
CAME_UP: Final = 0.2  # of a leap down: no acid
UNDONE: Final = 1 / 3  # of what the instrument added: who is so near goes back
HELD_MS: Final = DAY_MS
LONGEST_HELD_MS: Final = 7 * DAY_MS
SAME_HOUR: Final = 2.0  # in units of LEAST, or
SAME_HOUR_SHARE: Final = 0.3  # of the shift: how far the same hour of the next day may lie from the trusted level
WONDERED_MS: Final = HOUR_MS
WONDERED_READINGS: Final = 12  # of a slow probe
COARSE: Final = 0.5  # of the least step: a converter whose count hides how the series trembles
GRAINS: Final = 2.5  # a converter that turns over by one count has not shifted
FLAT_SHARE: Final = 0.3  # either level may move by this share of the shift
NEAR_AGAIN: Final = 10  # calm readings where the water may be, after which a lost probe is believed again,
NEAR_MS: Final = 30 * MINUTE_MS  # and so long: what walks about passes by
LEEWAY: Final = 1.5  # in units of LEAST: how far the water may have moved at once, by the hour, and at most
LEEWAY_AN_HOUR: Final = 1.0
MOST_LEEWAY: Final = 5.0
# Smallest shift seen, and the smallest of several readings' worth of the probe's own restlessness.
LEAST: Final[dict[str, float]] = {"ph": 0.1, "electrode_mv": 6.0, "temperature": 1.0, "dissolved_oxygen": 1.0}


class Step(Stateful):
    """Watches the level of one series; feed it every value inside the instrument's span, in order of time."""

    KEPT = (
        *("latest", "offset", "lost", "coarse", "since", "size", "wondered_at", "trusted", "trusted_at"),
        *("near", "near_at", "shift", "held_at", "wonder_ms", "leapt_at", "leap", "came_up", "again"),
    )

    def __init__(self, quantity: str) -> None:
        self.least = LEAST.get(quantity, float("inf"))
        self.latest: deque[tuple[int, float]] = deque(maxlen=BEFORE + AFTER + 1)
        self.again = False  # it jumped three readings ago: it is looked at again with the next one
        self.offset = 0.0  # what the instrument added since it was last to be believed
        self.lost = False  # shifted, and nobody knows by how much: it trembled or walked since,
        self.coarse = False  # or could have done so unseen
        self.since: int | None = None  # time of the reading that showed the last step
        self.size = 0.0
        self.wondered_at: int | None = None  # time of the last step that may have been water
        self.wonder_ms = WONDERED_MS  # how long it is wondered at
        self.leapt_at: int | None = None  # time of the last leap between two readings further apart,
        self.leap = 0.0  # and how far it went,
        self.came_up = False  # and whether it went down, and with the next readings came up again
        self.trusted = 0.0  # the level before the first step
        self.trusted_at = 0
        self.near = 0  # readings in a row that lie where the water may be by now ...
        self.near_at = 0  # ... since this time [ms]
        self.shift = 0.0  # what the instrument added, as far as is known; it may be so while the level is lost
        self.held_at = 0  # since when this was last seen to be so [ms]
        self._trembles = False

    @property
    def shifted(self) -> bool:
        """Whether the series stands on a level that the instrument has shifted."""
        return self.lost or self.offset != 0.0

    def forget(self) -> None:
        """Begin anew: what comes next is a probe seen to."""
        self.latest.clear()
        self.again = False
        self.believe()
        self.since, self.size, self.wondered_at, self.leapt_at = None, 0.0, None, None

    def wondered(self, at: int) -> bool:
        """Whether a step that was most likely the instrument's lies within the last hour (of a slow probe longer)."""
        return self.wondered_at is not None and at - self.wondered_at <= self.wonder_ms

    def beyond(self) -> list[tuple[int, float]]:
        """The readings past the last step that may have been water, as far as they are remembered: time and value."""
        since = self.wondered_at
        return [] if since is None else [row for row in self.latest if row[0] >= since]

    def leapt(self, at: int) -> float:
        """The leap between two readings within the last hour (of a slow probe longer), whatever followed; else 0.0."""
        return self.leap if self.leapt_at is not None and at - self.leapt_at <= self.wonder_ms else 0.0

    def fell(self) -> bool:
        """Whether the last leap's three readings go down one way; acid, too, comes up a little when it is mixed."""
        first, second, third = (value for _, value in list(self.latest)[-AFTER:])
        most = COMES_UP * abs(self.leap)
        return second - first <= most and third - second <= most

    def wonder(self, at: int) -> float:
        """The last step that may have been water, for a week from it; 0.0 with none."""
        lately = self.wondered_at is not None and at - self.wondered_at <= LONGEST_HELD_MS
        return self.size if lately else 0.0

    def lose(self) -> None:
        """The series trembles while it is shifted: the offset means nothing, unless the next day bears it out."""
        self.shift = self.offset or self.shift
        self.lost, self.coarse, self.offset, self.near = True, False, 0.0, 0

    def push(self, at: int, value: float, grain: float | None = None, *, trembles: bool = False) -> bool:
        """Take a value measured at `at` [ms]; whether it stands on a shifted level.

        `grain` is one count of the converter, where that is known. `trembles`: what it said until now is no level, so
        that no shift is counted from it.
        """
        self._trembles = trembles
        latest = self.latest
        latest.append((at, value))
        if len(latest) >= BEFORE + AFTER:
            again, self.again = self.again, abs(latest[-AFTER][1] - latest[-AFTER - 1][1]) >= self.least
            if self.again:
                self._look(list(latest)[-BEFORE - AFTER :], grain)
            if again:
                self._look_past_a_spike(grain)
        if not (self.lost or self.offset):
            return False
        away = abs(value - self.trusted)
        back = away <= min(self._leeway(at), abs(self.shift) / 2 if self.shift else away)
        if self.lost and back and not self.coarse:
            self.near_at = self.near_at if self.near else at
            self.near += 1
        else:
            self.near = 0
        again = self.near >= NEAR_AGAIN and at - self.near_at >= NEAR_MS
        if again:
            self.believe()
        elif at - self.held_at > HELD_MS:
            if not self._same(at):
                self.believe()
            elif not self._coarse(grain):
                self.lost, self.offset = False, self.shift
        return self.shifted

    def _coarse(self, grain: float | None) -> bool:
        return grain is not None and grain > COARSE * self.least

    def _same(self, at: int) -> bool:
        """Whether a day later the water, less the shift, stands where it stood: then it is held for another day."""
        levels = sorted(v for _, v in self.latest)
        away = abs(levels[len(levels) // 2] - self.shift - self.trusted)
        allowed = max(SAME_HOUR * self.least, SAME_HOUR_SHARE * abs(self.shift))
        if not self.shift or away > allowed or self.since is None or at - self.since > LONGEST_HELD_MS:
            return False
        self.held_at += DAY_MS
        return True

    def _leeway(self, at: int) -> float:
        """How far the water may lie from the trusted level by now."""
        hours = (at - self.trusted_at) / HOUR_MS
        return self.least * min(MOST_LEEWAY, LEEWAY + LEEWAY_AN_HOUR * hours)

    def _went_back(self, at: int, level: float, shift: float) -> bool:
        """Whether what the instrument added is gone, unseen: the level is where the water may be by now."""
        undone = self.offset != 0.0 and abs(self.offset + shift) < UNDONE * abs(self.offset)
        return undone and abs(level - self.trusted) <= self._leeway(at)

    def _look_past_a_spike(self, grain: float | None) -> None:
        """One reading later: as it is without the one odd reading after the step, which is none of water on its way."""
        rows = list(self.latest)
        old, new = sorted(v for _, v in rows[:BEFORE])[BEFORE // 2], sorted(rows[BEFORE:], key=itemgetter(1))
        odd = max(new[0], new[-1], key=lambda row: abs(row[1] - new[AFTER // 2][1]))
        known = rows[BEFORE][0] in (self.since, self.wondered_at)
        if not known and not min(old, new[1][1]) <= odd[1] <= max(old, new[1][1]) and odd != rows[-1]:
            rows.remove(odd)
            self._look(rows, grain)

    def _look(self, rows: list[tuple[int, float]], grain: float | None) -> None:
        least = max(self.least, GRAINS * (grain or 0.0))
        gap = max(b[0] - a[0] for a, b in pairwise(self.latest))
        old, new = sorted(v for _, v in rows[:BEFORE]), sorted(v for _, v in rows[BEFORE:])
        level = new[AFTER // 2]
        shift = level - old[BEFORE // 2]
        slow = gap > GAP_MS
        least = max(least, SLOW_LEAST * self.least) if slow else least
        allowed = (SLOW_FLAT_SHARE if slow else FLAT_SHARE) * abs(shift)
        if SURE_GAP_MS < gap <= SLOW_GAP_MS and max(new[0] - old[-1], old[0] - new[-1]) >= LEAP * self.least:
            first, second, third = (value for _, value in rows[BEFORE:])
            up = max(second - first, third - min(first, second))
            self.came_up = (self.came_up and self.leapt(rows[BEFORE][0]) < 0.0) or up > -CAME_UP * shift > 0.0
            self.leapt_at, self.leap = rows[BEFORE][0], shift
            self.wonder_ms = max(WONDERED_MS, WONDERED_READINGS * gap)
        if abs(shift) < least or new[-1] - new[0] > allowed:
            return
        if gap > SURE_GAP_MS and self._went_back(rows[BEFORE][0], level, shift):
            self.since, self.size = rows[BEFORE][0], shift
            self.believe()
            return
        uneven = old[-1] - old[0] > allowed and not _flat_but_one(old, rows[BEFORE - 1][1], allowed)
        if gap > SLOW_GAP_MS or uneven:
            return
        sharp = gap <= SHARP_GAP_MS and _is_sharp(rows, old[BEFORE // 2], level, SHARP_LEAST * self.least, grain or 0.0)
        if gap > SURE_GAP_MS and not sharp:
            self.wondered_at, self.size = rows[BEFORE][0], shift
            self.wonder_ms = max(WONDERED_MS, WONDERED_READINGS * gap)
            return
        if not self.shifted:
            if self._trembles:
                return
            self.trusted, self.trusted_at = old[BEFORE // 2], rows[0][0]
        self.since = self.held_at = rows[BEFORE][0]
        self.size = shift
        if self.lost:
            if abs(self.shift + shift) < least:  # it went back by as much as it came
                self.believe()
            return
        self.offset += shift
        self.shift = self.offset
        if abs(self.offset) < least or abs(level - self.trusted) <= self._leeway(self.since) / 2:
            self.believe()
        if self.offset and self._coarse(grain):
            self.lose()  # too coarse to tell a walk in the air from water
            self.coarse = True

    def believe(self) -> None:
        """What it says is taken as it is from now on."""
        self.offset, self.lost, self.coarse, self.near, self.shift = 0.0, False, False, 0, 0.0


def _flat_but_one(levels: list[float], last: float, allowed: float) -> bool:
    """Whether the sorted levels are flat, one spike apart that is not the last of them in time."""
    return any(rest[-1] - rest[0] <= allowed and rest[0] <= last <= rest[-1] for rest in (levels[1:], levels[:-1]))


def _is_sharp(rows: list[tuple[int, float]], old: float, new: float, least: float, grain: float) -> bool:
    """Whether a large shift shows no shoulder: the last reading before it and all after it lie on their levels."""
    shift = abs(new - old)
    allowed = max(SHARP_SHARE * shift, HAIR + grain if shift > SHARP_COUNTS * grain - HAIR else 0.0)
    near = abs(rows[BEFORE - 1][1] - old) <= allowed and all(abs(v - new) <= allowed for _, v in rows[BEFORE:])
    return near and shift >= least
