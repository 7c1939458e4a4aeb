"""What every link offers the service, and what it tells about itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal, Protocol, TypeAlias

from dawnline.probes.intake import Receipt

State: TypeAlias = Literal["new", "waiting", "connected", "refused", "stopped"]
"""`waiting`: not there, tried again and again. `refused`: there, but will not have us (password, topic)."""


@dataclass(frozen=True, slots=True)
class LinkReport:
    """How a link is doing; plain JSON values.

    `good` counts lines or messages that gave a value; `bad` and `last_refused` (escaped, at most 80
    characters) go by the text of the refusal. `silent_s` is machine time since anything arrived, None before
    that. `silent_probes` did not answer when they were last asked; only links that ask have some.
    """

    name: str
    state: State
    good: int = 0
    bad: Mapping[str, int] = field(default_factory=dict)
    last_refused: Mapping[str, str] = field(default_factory=dict)
    unknown_names: tuple[str, ...] = ()
    dropped: int = 0
    reconnects: int = 0
    refused_connections: int = 0
    last_error: str | None = None
    silent_s: float | None = None
    silent_probes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The report as a JSON object."""
        return asdict(self)


class Link(Protocol):
    """Moves bytes from a port or a broker into the intake, in a thread of its own."""

    @property
    def name(self) -> str:
        """What it is called in receipts, reports and logs."""

    @property
    def window(self) -> int | None:
        """How many arrivals may be out without an acknowledgement; None: it wants none."""

    def pressing(self) -> bool:
        """Whether the other side may soon wait for acknowledgements: what has arrived is to be committed."""

    def let_go(self, receipts: Sequence[Receipt]) -> Sequence[Receipt]:
        """The store takes nothing: see that what comes is heard all the same. Those of these, not to be stored now,
        that other ponds would have to wait for are acknowledged, and given back.
        """

    def all_heard(self) -> bool:
        """Whether nothing more will come of what was overheard (receipts with `mid` 0)."""

    def start(self) -> None:
        """Begin; what is not there yet is waited for. Raises SettingsError for what waiting cannot mend."""

    def stop(self) -> None:
        """End; returns within 2 s (machine time)."""

    def report(self) -> LinkReport:
        """How it is doing."""

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """These arrivals are on disk. To be called after the commit only; from any thread."""
