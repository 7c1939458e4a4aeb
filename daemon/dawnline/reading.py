"""A sample as it arrives, a reading as it is kept, and the flag that says how far to trust it."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple


class Flag(IntEnum):
    """QARTOD primary flags (IOOS, Manual for Real-Time Quality Control, flags 1, 2, 3, 4 and 9)."""

    GOOD = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9

    @property
    def label(self) -> str:
        """The flag in words, as shown everywhere."""
        return self.name.lower().replace("_", " ")

    def of_the_present(self, *, silent: bool, out: bool, doubted: bool) -> Flag:
        """How far the newest reading, which was kept with this flag, is to be trusted as the present value.

        It is missing where the probe is `silent` since; none is good of one that is `out` of service or doubted.

        >>> Flag.GOOD.of_the_present(silent=False, out=False, doubted=True).label
        'suspect'
        """
        if silent:
            return Flag.MISSING
        if self is not Flag.GOOD or not (out or doubted):
            return self
        return Flag.NOT_EVALUATED if out else Flag.SUSPECT


class Reason(IntEnum):
    """Why a reading is not plainly good. A closed list; the number is what the store keeps."""

    NONE = 0
    OUT_OF_SPAN = 1  # outside what the instrument can measure
    UNUSUAL = 2  # inside the span, outside what a pond shows
    SPIKE = 3  # far from its neighbours in time, not (yet) borne out by the next readings
    REPEATED_TIME = 4  # another value for a time already recorded
    OUT_OF_ORDER = 5  # older than the last reading of this probe
    UNDATED = 6  # retained by the broker and without a time of its own
    AHEAD_OF_CLOCK = 7  # its own time lies in the future
    MAINTENANCE = 8  # taken while the probe was out of service or being cleaned or calibrated
    CHECK_FAILED = 9  # a check crashed: its verdict is lost, the reading is not
    TOO_FAST = 10  # a change faster than water can make
    FLAT = 11  # the value has not moved for longer than this probe's values ever rest
    ATTENUATED = 12  # the value hardly moves over a day and night
    OUT_OF_SEASON = 13  # outside what this pond has shown in this month, or what the keeper expects of it
    AFTER_GAP = 14  # the first reading after a silence; nothing is held against it
    NOISY = 15  # the series trembles far more than it usually does
    SHIFTED = 16  # on a level that the instrument has shifted within one reading

    @property
    def label(self) -> str:
        """The reason in words."""
        return self.name.lower().replace("_", " ")


class Sample(NamedTuple):
    """One value as a link delivers it.

    `at` is when it was measured and `received_at` when it reached us, both in Unix milliseconds, UTC, pond
    time; they are the same unless the sender gave a time of its own. `dated` is false where `at` cannot be
    believed (a retained MQTT message without a time). `value` is finite, in the unit of the probe's quantity.
    """

    probe: str
    at: int
    value: float
    received_at: int
    dated: bool = True


class Reading(NamedTuple):
    """A sample with its verdict: what the store keeps, never altered afterwards."""

    probe: str
    at: int
    value: float
    received_at: int
    flag: Flag
    reason: Reason
