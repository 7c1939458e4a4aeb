"""One pond as it was, minute by minute, and what its probes made of it."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import Any

from easy_world import EasyWorld
from hard_world import HardWorld
from world import STEP_MS, Place, World, roll

from dawnline.event import Act
from dawnline.reading import Sample

MODELS = ("easy", "hard")


def world_of(model: str, seed: int, purpose: str, kind: str) -> World:
    """The pond of a seed."""
    return EasyWorld(seed, purpose, kind) if model == "easy" else HardWorld(seed, purpose, kind)


@dataclass
class Story:
    """States every STEP_MS from `begin`, with the true pH."""

    world: World
    begin: int
    states: list[Any] = field(default_factory=list)
    ph: array[float] = field(default_factory=lambda: array("d"))

    @property
    def place(self) -> Place:
        """Where it is."""
        return self.world.place

    @property
    def end(self) -> int:
        """When it ends."""
        return self.begin + len(self.states) * STEP_MS

    def live(self, until: int, events: list[Any]) -> None:
        """On until a time."""
        world = self.world
        state = self.states[-1] if self.states else world.start()
        while self.end < until:
            state = world.follow(state, self.end, events)
            self.states.append(state)
            self.ph.append(world.ph(state))

    def cut(self, at: int) -> Story:
        """The story up to a time, to be told on in another way."""
        count = (at - self.begin) // STEP_MS
        return Story(self.world, self.begin, self.states[:count], self.ph[:count])

    def lowest(self, begin: int, end: int) -> float:
        """The lowest true pH between two times."""
        return min(self.ph[max(0, (begin - self.begin) // STEP_MS) : (end - self.begin) // STEP_MS], default=14.0)

    def passes(self, limit: float, after: int) -> int | None:
        """When the true pH first is below a limit."""
        first = max(0, (after - self.begin) // STEP_MS)
        for index in range(first, len(self.ph)):
            if self.ph[index] < limit:
                return self.begin + index * STEP_MS
        return None

    def readings(self, seed: str, interval_ms: int, calibrated: tuple[int, ...] = ()) -> list[Sample]:
        """pH and temperature as the probes show them; the pH probe is set right at the times in `calibrated`."""
        probe, dice = self.world.instrument(seed), roll(seed, "water")
        samples, due = [], list(calibrated)
        for at in range(self.begin, self.end, interval_ms):
            state = self.states[(at - self.begin) // STEP_MS]
            if due and at >= due[0]:
                del due[0]
                probe.calibrate()
            samples.append(Sample("ph", at, probe.read(state, interval_ms / 1000), at))
            water = round((self.world.temperature_c(state) + dice.gauss(0.0, 0.02)) * 16.0) / 16.0
            samples.append(Sample("water", at + 1, water, at + 1))
        return samples


def act(number: int, at: int, kind: str, **body: Any) -> Act:
    """One entry of the logbook."""
    return Act(f"{kind}-{number}", at, kind, body)
