"""A delivery that failed for now, with the least wait that makes sense before the next attempt."""

from __future__ import annotations

from dawnline.errors import DeliveryError

KEEPER_S = 5 * 60.0  # wrong password, wrong certificate: a person must mend it, and servers lock out the hasty


class LaterError(DeliveryError):
    """Try again, but not before `wait_s` seconds: the other side asked for it, or the keeper has to act."""

    def __init__(self, text: str, *, wait_s: float = KEEPER_S) -> None:
        super().__init__(text, retry=True)
        self.wait_s = wait_s
