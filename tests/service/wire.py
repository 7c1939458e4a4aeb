"""A link without a thread or a port, and a power cut, for a core that a test turns by itself."""

from __future__ import annotations

from dataclasses import dataclass, field

from dawnline.probes.intake import Receipt


class PowerCutError(Exception):
    """Nothing more is written."""


@dataclass
class Wire:
    """A link whose readings are acknowledged; `acknowledged` are their numbers."""

    name: str = "wire"
    window: int | None = None
    acknowledged: list[int] = field(default_factory=list)

    def acknowledge(self, receipts: list[Receipt]) -> None:
        self.acknowledged += [receipt.mid for receipt in receipts]

    def pressing(self) -> bool:
        return False

    def let_go(self, receipts: list[Receipt]) -> list[Receipt]:
        return receipts[:0]

    def all_heard(self) -> bool:
        return True

    def start(self) -> None: ...

    def stop(self) -> None: ...
