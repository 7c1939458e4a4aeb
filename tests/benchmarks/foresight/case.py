"""One pond of a benchmark, small enough to keep: readings, acts and the truth that is asked for. Kept in a cache."""

from __future__ import annotations

import hashlib
import pickle
from array import array
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from story import Story
from world import Place

from dawnline.event import Act
from dawnline.reading import Sample

SIMULATOR = Path(__file__).parents[3] / "simulator" / "dawnline_simulator"


@dataclass
class Readings:
    """What both probes showed."""

    begin: int
    interval_ms: int
    ph: array[float]
    water: array[float]

    @classmethod
    def of(cls, story: Story, seed: str, interval_ms: int, calibrated: tuple[int, ...] = ()) -> Readings:
        """Read a story."""
        samples = story.readings(seed, interval_ms, calibrated)
        ph, water = (array("d", (s.value for s in samples if s.probe == name)) for name in ("ph", "water"))
        return cls(story.begin, interval_ms, ph, water)

    def samples(self) -> list[Sample]:
        """For the pipeline."""
        out = []
        for index, (ph, water) in enumerate(zip(self.ph, self.water, strict=True)):
            at = self.begin + index * self.interval_ms
            out += [Sample("ph", at, ph, at), Sample("water", at + 1, water, at + 1)]
        return out

    def ph_rows(self) -> list[tuple[int, float]]:
        """Time and pH as shown."""
        return [(self.begin + index * self.interval_ms, value) for index, value in enumerate(self.ph)]


@dataclass
class Case:
    """One pond. `readings` and `acts` by variant; `truth` holds what the section asks for."""

    model: str
    seed: int
    kind: str
    place: Place
    volume_litres: float
    readings: dict[str, Readings]
    acts: dict[str, Sequence[Act]] = field(default_factory=dict)
    truth: dict[str, Any] = field(default_factory=dict)


@lru_cache(maxsize=1)
def _fingerprint() -> str:
    """Changes with the ponds and the way their stories are told, not with the watch."""
    digest = hashlib.sha256()
    here = Path(__file__).parent
    files = [*(SIMULATOR / f"{name}.py" for name in PONDS), *(here / f"{name}.py" for name in TELLERS)]
    for path in sorted([*SIMULATOR.glob("hard_pond/*.py"), *files]):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


PONDS = ("dice", "happenings", "pond", "probes", "processes", "sun", "weather")
TELLERS = ("world", "easy_world", "hard_world", "story", "case", "night_bound")
TELLERS += ("nights_told", "calm_told", "buffer_told")


def kept(folder: Path | None, name: str, tell: Callable[[], Case | None]) -> Case | None:
    """The case from the cache, or told and kept there. Only a folder of one's own is a cache: it is unpickled."""
    if folder is None:
        return tell()
    path = folder / f"{name}-{_fingerprint()}.pickle"
    if path.exists():
        return pickle.loads(path.read_bytes())  # type: ignore[no-any-return]
    case = tell()
    folder.mkdir(parents=True, exist_ok=True)
    path.write_bytes(pickle.dumps(case))
    return case
