"""What enters the pipeline and what leaves it.

In: `Sample` (see reading.py), `Tick`, `Act`, `Delivered`, `Storing`. Out: `Keep`, `Day`, `Rainfall`, `Transition`,
`Moved`, `Notice`, `Message`, `Forecast`, `Problem`, `Verdict`. All times are Unix milliseconds, UTC, pond time. Bodies
are plain JSON values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple, TypeAlias

from dawnline.reading import Reading, Sample

Priority: TypeAlias = Literal["low", "medium", "high"]
PRIORITIES: tuple[Priority, ...] = ("low", "medium", "high")

Change: TypeAlias = Literal[
    "raised", "escalated", "returned", "acknowledged", "shelved", "unshelved", "suppressed", "released"
]


# ---------------------------------------------------------------- in


class Tick(NamedTuple):
    """Pond time has reached `at`, whether or not anything was measured."""

    at: int


@dataclass(frozen=True, slots=True)
class Act:
    """What a person did: a logbook entry, or a move on an alarm or a probe. `id` is unique for ever."""

    id: str
    at: int
    kind: str
    body: Mapping[str, Any]
    actor: str = ""


@dataclass(frozen=True, slots=True)
class Delivered:
    """How the delivery of one letter ended, or that it failed once more and will be tried again."""

    key: str
    at: int
    outcome: Literal["delivered", "retry", "dead"]
    text: str = ""


@dataclass(frozen=True, slots=True)
class Storing:
    """How the store takes what there is to keep, said whenever that changes: `trouble` is "" where all is well.

    `grave` says that what is measured is not written down: a power cut would take it.
    """

    at: int
    trouble: str = ""
    grave: bool = False


Event: TypeAlias = Sample | Tick | Act | Delivered | Storing


# ---------------------------------------------------------------- out


class Keep(NamedTuple):
    """Store this reading."""

    reading: Reading


@dataclass(frozen=True, slots=True)
class Day:
    """One pond day of one pH probe. A figure that cannot be had is None.

    pH figures are in pH units, `coverage` is 0..1, `minutes_*` are minutes against ph_low and ph_high.
    """

    date: str
    probe: str
    dawn_low: float | None
    dawn_low_at: int | None
    dusk_high: float | None
    dusk_high_at: int | None
    swing: float | None
    mean: float | None
    minutes_below: float
    minutes_above: float
    coverage: float
    partial: bool


class Rainfall(NamedTuple):
    """What fell into a rain gauge [mm] between two times [ms]: a quarter of an hour, longer where it was silent."""

    probe: str
    start: int
    end: int
    mm: float


@dataclass(frozen=True, slots=True)
class Transition:
    """An alarm changed: decided at `at`, its condition there since `since`. `id` names the episode."""

    id: int
    at: int
    since: int
    alarm: str
    change: Change
    priority: Priority
    probe: str | None
    value: float | None
    text: str
    actor: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """A move of one alarm between its states (alarms/states), the quiet ones included: what the journal keeps.

    `episode` is None where none runs; `actor` is "" where dawnline itself moved it; `reason` says why, if anything.
    """

    at: int
    alarm: str
    probe: str | None
    episode: int | None
    move: str
    before: str
    after: str
    priority: Priority
    actor: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Notice:
    """The transition before it is one that people should hear of; who does, and when, is decided in people/, which
    makes messages of it. `episode` ties the notices of one alarm episode together.
    """

    at: int
    episode: int
    alarm: str
    change: Change
    priority: Priority


Why: TypeAlias = Literal[
    "raised",  # an alarm of this incident is new to this person, or more urgent than they know
    "again",  # what was over is back within the hour
    "repeat",  # nobody has acknowledged yet
    "unanswered",  # nobody asked before has acknowledged in time: this person is the next
    "unreachable",  # nobody asked before can be reached
    "update",  # something changed that asks nothing of them
    "over",  # the all-clear
    "morning",  # what waited for the end of quiet hours, or the word of every morning
    "handover",  # the pond is given to them
    "reminder",  # something is due by the logbook
    "weekly",  # the report of a week, as it was wished
]


@dataclass(frozen=True, slots=True)
class Message:
    """One text for one person, with the reason why they get it now.

    `key` is unique for ever and the same in every replay. `thread` is the same for all messages of one incident,
    `opens` marks a person's first in it; a later one of the same `incident` says all that the earlier ones said.
    `asks` are the episodes that wait to be acknowledged.
    """

    key: str
    at: int
    person: str
    addresses: tuple[str, ...]
    why: Why
    priority: Priority
    subject: str
    text: str
    incident: int
    thread: str
    opens: bool
    asks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """An outlook; `body` holds the keys of the interface contract for `about`, `evidence` what it rests on."""

    about: Literal["tonight", "buffer"]
    at: int
    body: Mapping[str, Any]
    evidence: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that could not be used, said once, with the place and the remedy."""

    at: int
    text: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to an act."""

    act: Act
    accepted: bool
    text: str


Effect: TypeAlias = Keep | Day | Rainfall | Transition | Moved | Notice | Message | Forecast | Problem | Verdict
