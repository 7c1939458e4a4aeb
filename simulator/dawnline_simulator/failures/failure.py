"""What every failure answers, and the count it is rounded to."""

from __future__ import annotations

from typing import Protocol


class Failure(Protocol):
    """A failure that has begun; it remembers what it needs, so one object serves one stretch of time."""

    def show(self, seconds: float, water_ph: float, shown: float) -> float | None:
        """The reading [pH], None for silence.

        `seconds` have passed since the last reading, the water truly has `water_ph`, and a healthy instrument would
        have `shown` this. To be called once a reading, in the order of time.
        """


def to_count(value: float, count: float) -> float:
    """The value as a converter of this `count` [pH] gives it out.

    >>> to_count(7.1234, 0.02)
    7.12
    """
    return round(round(value / count) * count, 6)
