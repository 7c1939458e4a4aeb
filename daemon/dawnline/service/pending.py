"""What waits for the next commit: effects of whole steps, gathered until they are one batch."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from dawnline.event import (
    Day,
    Delivered,
    Effect,
    Forecast,
    Keep,
    Message,
    Moved,
    Problem,
    Rainfall,
    Storing,
    Transition,
    Verdict,
)
from dawnline.letter import Letter
from dawnline.pipeline import STATE_VERSION, Pipeline
from dawnline.reading import Reading
from dawnline.store.batch import Batch
from dawnline.store.provisional import Stretch
from dawnline.store.record import ActRow
from dawnline.store.state import Receipt, StoredCheckpoint

_NO_RECEIPTS: Final[Mapping[str, Sequence[Receipt]]] = {}


@dataclass(slots=True)
class Pending:
    """Effects since the last commit. `urgent` is set by those that must not wait for the minute.

    In a provisional `stretch` there are no days, rain and forecasts: nobody knows which hour it is.
    """

    stretch: Stretch | None = None

    readings: list[Reading] = field(default_factory=list)
    days: list[Day] = field(default_factory=list)
    forecasts: list[Forecast] = field(default_factory=list)
    rain: list[Rainfall] = field(default_factory=list)
    transitions: list[Transition] = field(default_factory=list)
    moves: list[Moved] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)
    verdicts: list[ActRow] = field(default_factory=list)
    outcomes: list[Delivered] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    storing: list[Storing] = field(default_factory=list)
    urgent: bool = False

    def take(self, effects: Sequence[Effect]) -> None:
        """Take the effects of one whole step."""
        for effect in effects:
            if self.stretch is not None and isinstance(effect, Day | Forecast | Rainfall):
                continue
            match effect:
                case Keep():
                    self.readings.append(effect.reading)
                    continue
                case Day():
                    self.days.append(effect)
                case Forecast():
                    self.forecasts.append(effect)
                case Rainfall():
                    self.rain.append(effect)
                case Transition():
                    self.transitions.append(effect)
                    self.urgent = True
                case Moved():
                    self.moves.append(effect)
                case Message():
                    self.messages.append(effect)
                    self.urgent = True
                case Verdict():
                    act = effect.act
                    self.verdicts.append(ActRow(act, effect.accepted, effect.text, act.at))
                    self.urgent = True
                case Problem():
                    self.problems.append(effect)

    def batch(
        self,
        pipeline: Pipeline,
        *,
        letters: Sequence[Letter] = (),
        in_flight: Collection[str] = (),
        attempts: Sequence[str] = (),
        receipts: Mapping[str, Sequence[Receipt]] = _NO_RECEIPTS,
        checkpoint: bool = False,
        memory: bool = False,
    ) -> Batch:
        """Everything gathered, with the pipeline's cursor and, if changed or with `memory`, the memory of alarms."""
        return Batch(
            readings=self.readings,
            days=self.days,
            forecasts=self.forecasts,
            rain=self.rain,
            transitions=self.transitions,
            moves=self.moves,
            acts=self.verdicts,
            outcomes=self.outcomes,
            letters=letters,
            in_flight=in_flight,
            attempts=attempts,
            cursor=pipeline.now,
            receipts=receipts,
            alarm_memory=json.dumps(pipeline.alarm_memory()) if pipeline.changed or checkpoint or memory else None,
            checkpoint=checkpoint_of(pipeline) if checkpoint else None,
            stretch=self.stretch,
            storing=self.storing,
        )


def checkpoint_of(pipeline: Pipeline) -> StoredCheckpoint:
    """The whole memory of the pipeline, as the store keeps it."""
    return StoredCheckpoint(STATE_VERSION, pipeline.now, json.dumps(pipeline.save()))
