"""A delivery that failed for now, with the least wait that makes sense before the next attempt.

Apart from what speaks HTTP, which is heavy and loaded with the first letter.
"""

from __future__ import annotations

from dawnline.errors import DeliveryError

KEEPER_S = 5 * 60.0  # wrong password, wrong certificate: a person must mend it, and servers lock out the hasty


class LaterError(DeliveryError):
    """Try again, but not before `wait_s` seconds: the other side asked for it, or the keeper has to act."""

    def __init__(self, text: str, *, wait_s: float = KEEPER_S) -> None:
        super().__init__(text, retry=True)
        self.wait_s = wait_s


def retry_after_s(after: str | None, date: str | None) -> float | None:
    """Seconds asked for by a Retry-After header (RFC 9110 10.2.3), None where it says nothing usable.

    A date is measured from the answer's own Date header, so that our clock does not matter.

    >>> retry_after_s("120", None)
    120.0
    >>> retry_after_s("Wed, 03 Jun 2026 04:30:30 GMT", "Wed, 03 Jun 2026 04:30:00 GMT")
    30.0
    """
    if after is None:
        return None
    if after.strip().isdecimal():
        return float(after)
    from email.utils import parsedate_to_datetime

    try:
        wait_s = (parsedate_to_datetime(after) - parsedate_to_datetime(date or "")).total_seconds()
    except (ValueError, TypeError):
        return None
    return max(wait_s, 0.0)
