"""How long a server asks us to wait; apart from what speaks HTTP, which is heavy and loaded with the first letter."""

from __future__ import annotations


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
