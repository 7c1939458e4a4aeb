"""One probe's course over any range, as fine as there is room for: for a picture that is zoomed into."""

from __future__ import annotations

from typing import Final, NamedTuple

from dawnline.duration import EVER_MS, MINUTE_MS, SECOND_MS
from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.layer import Layer
from dawnline.event import Act
from dawnline.logbook.acts import AMENDING, CARE
from dawnline.logbook.ledger import standing
from dawnline.review.stretch import in_ph
from dawnline.rollup import STEP_MS, Rollup, by_step
from dawnline.settings import Settings
from dawnline.store.reader import Reader

MOST: Final = 800  # stretches: more than a screen can show side by side
FINE: Final = tuple(s * SECOND_MS for s in (1, 5, 10, 30)) + tuple(m * MINUTE_MS for m in (1, 2, 5, 10))


class Course(NamedTuple):
    """Stretches of `step` ms, each with its lowest, highest and sum; pH probes in pH, whatever they measure."""

    step: int
    rollups: list[Rollup]


def course_of(reader: Reader, settings: Settings, probe: str, start: int, end: int, *, most: int = MOST) -> Course:
    """The readings of start <= at < end (Unix ms) in at most about `most` stretches. Every extreme is in one of them.

    Fine stretches come from the readings, coarse ones from the rollups, whose stretches begin at whole quarters of an
    hour; so do all where the readings were let go. Empty for a probe that is not configured.
    """
    known = {each.name: each for each in settings.probes}
    step = step_of(start, end, most)
    if probe not in known or start >= end:
        return Course(step, [])
    measured = [probe, *([known[probe].temperature] if known[probe].temperature else [])]
    if step < STEP_MS and any(start < reader.raw_since(name) for name in measured if name):
        step = STEP_MS  # finer is not kept
    layer = layers_of(reader, settings).get(probe)
    if layer is None:
        return Course(step, _measured(reader, probe, start, end, step))
    fine = min(step, STEP_MS)  # water changes too much within longer ones
    thermometer = known[probe].temperature
    warmth = _measured(reader, thermometer, start, end, fine) if thermometer else []
    ph = in_ph(_measured(reader, probe, start, end, fine), layer, warmth, fine)
    return Course(step, ph if step == fine else by_step(ph, start - start % STEP_MS, step))


def step_of(start: int, end: int, most: int = MOST) -> int:
    """How long the stretches of a course are [ms]."""
    least = max(1, (end - start) // most)
    return next((each for each in FINE if each >= least), -(-least // STEP_MS) * STEP_MS)


def _measured(reader: Reader, probe: str, start: int, end: int, step: int) -> list[Rollup]:
    if step < STEP_MS:
        begun = start - start % step
        return reader.buckets(probe, begun, end, step)
    return reader.rollups(probe, start - start % STEP_MS, end + -end % STEP_MS, step)


def care_of(reader: Reader, at: int) -> list[Act]:
    """What was done at the probes up to `at` [ms], as it stands, each at the time it is about."""
    return standing(reader.accepted_acts(at, (*CARE, *AMENDING)))


def layers_of(reader: Reader, settings: Settings) -> dict[str, Layer]:
    """The calibrations and corrections of each pH probe."""
    done = care_of(reader, EVER_MS)
    return {p.name: Layer(p.name, p.quantity, done) for p in settings.probes if p.quantity in IDEAL}
