"""A reading as a store keeps it."""

from __future__ import annotations

from dawnline.reading import Flag, Reading, Reason


def reading(probe: str, at: int, value: float, received_at: int | None = None, flag: Flag = Flag.GOOD) -> Reading:
    reason = Reason.NONE if flag is Flag.GOOD else Reason.SPIKE
    return Reading(probe, at, value, at if received_at is None else received_at, flag, reason)
