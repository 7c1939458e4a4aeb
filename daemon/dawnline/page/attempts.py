"""How often somebody may try a passphrase: a few at once, then ever more slowly, by address and for all together."""

from __future__ import annotations

from typing import Final

FREE: Final = 5  # wrong ones without a wait
LONGEST_S: Final = 900.0
FORGET_S: Final = 3600.0
ALL_FREE: Final = 50
_MOST: Final = 1000  # addresses remembered


class Attempts:
    """Counts wrong passphrases. Times are machine time [s]."""

    def __init__(self) -> None:
        self._wrong: dict[str, tuple[int, float]] = {}

    def wait_s(self, address: str, now_s: float) -> float:
        """How long this address has to wait before the next try; 0 where it may try now."""
        waits = [
            self._left(address, FREE, now_s),
            self._left("", ALL_FREE, now_s),
        ]
        return max(waits)

    def wrong(self, address: str, now_s: float) -> None:
        """It was the wrong one."""
        for who in (address, ""):
            number, last = self._wrong.get(who, (0, now_s))
            self._wrong[who] = (number + 1 if now_s - last < FORGET_S else 1, now_s)
        if len(self._wrong) > _MOST:
            oldest = min((who for who in self._wrong if who), key=lambda who: self._wrong[who][1])
            del self._wrong[oldest]

    def right(self, address: str) -> None:
        """It was the right one: this address begins anew."""
        self._wrong.pop(address, None)

    def _left(self, who: str, free: int, now_s: float) -> float:
        number, last = self._wrong.get(who, (0, 0.0))
        if number < free or now_s - last >= FORGET_S:
            return 0.0
        wait: float = min(2.0 ** min(number - free, 20), LONGEST_S)
        return max(0.0, last + wait - now_s)
