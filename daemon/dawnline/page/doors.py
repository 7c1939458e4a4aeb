"""What the page is given: the present, the record, and the way to ask the service. Who starts it makes them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol

from dawnline.event import Act
from dawnline.review.week import Week
from dawnline.settings import Settings


class Present(Protocol):
    """The present as the service wrote it last; `age_s` is None where it comes from the store."""

    @property
    def data(self) -> dict[str, Any]:
        """With the keys of `now.json`."""

    @property
    def running(self) -> bool:
        """Whether the service is there."""

    @property
    def clock_set(self) -> bool:
        """Whether the clock is known to be set, as far as anybody says."""

    @property
    def age_s(self) -> float | None:
        """How old it is [s]."""


@dataclass(frozen=True, slots=True)
class Doors:
    """Each may raise a DawnlineError; `glance` is the present as a service wrote it, without a look into the store, and
    None where none did; `week` and `close_up` (its times in ms) give None where nothing was recorded, `put` where
    nobody answered; `plan` whether a dose is refused, and the plan's lines; `history` what was done at a pH probe, each
    act in words, and its trend, a line each.
    `now` is the pond's time [ms], `wall_s` the machine's time of day and `monotonic_s` a clock that nobody sets [s].
    """

    settings: Settings
    present: Callable[[], Present]
    glance: Callable[[], Present | None]
    week: Callable[[date | None, date | None], Week | None]
    close_up: Callable[[int, int], Week | None]
    entries: Callable[[int], Sequence[Act]]
    history: Callable[[str], tuple[Sequence[tuple[Act, str]], Sequence[str]]]
    put: Callable[[str, Mapping[str, Any], str], tuple[bool, str] | None]
    plan: Callable[[str, Mapping[str, str]], tuple[bool, Sequence[str]]]
    now: Callable[[], int]
    wall_s: Callable[[], float]
    monotonic_s: Callable[[], float]

    def today(self) -> date:
        """The date at the pond."""
        return datetime.fromtimestamp(self.now() / 1000, self.settings.pond.zone).date()
