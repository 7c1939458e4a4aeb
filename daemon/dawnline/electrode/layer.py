"""The second layer over one probe's record: which calibration held when, and what each visit found, from the acts.

Computed anew from what was measured and what was done; the store is never altered. A correction needs two visits: the
record after the last one stands as measured until the next.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from dawnline.electrode.calibration import IDEAL, Calibration, Point, fit
from dawnline.electrode.drift import Corrected, Errors, Grade, Visits, drift_error, fouling_error
from dawnline.errors import InputError
from dawnline.event import Act
from dawnline.logbook import acts


class Layer:
    """Made from the accepted acts of a pond, in order of time; those at other probes are passed over."""

    def __init__(self, probe: str, quantity: str, done: Iterable[Act]) -> None:
        self.probe = probe
        self._held: list[Calibration] = [IDEAL[quantity]]
        self._drift: list[Visits] = []
        self._fouling: list[Visits] = []
        self._in_buffer: tuple[int, Errors] | None = None  # the last visit with a buffer: when, and what it left behind
        self._clean_at: int | None = None
        for act in sorted(done, key=lambda act: act.at):
            if act.body.get("probe") == probe and act.kind in acts.CARE:
                try:
                    self._take(act.at, acts.read(act.kind, act.body))
                except InputError:  # of a probe that measured something else then
                    continue

    @property
    def calibrations(self) -> list[Calibration]:
        """Every calibration that came into force."""
        return self._held[1:]

    def in_force(self, at: int) -> Calibration:
        """The calibration that held at `at` [ms]."""
        return self._held[bisect_right(self._held, at, lo=1, key=lambda each: each.at) - 1]

    def correct(self, at: int, ph: float) -> Corrected:
        """What `ph`, as shown at `at`, would have been: fouling first, then drift; nothing where nothing is known."""
        fouling, drift = _covering(self._fouling, at), _covering(self._drift, at)
        fouled = fouling.correct(at, ph).fouling if fouling is not None else 0.0
        drifted = drift.correct(at, ph + fouled).drift if drift is not None else 0.0
        found = Corrected(ph + fouled + drifted, fouled, drifted)
        return found._replace(value=None) if found.grade is Grade.BEYOND else found

    def known(self, at: int) -> bool:
        """Whether a visit before and one after tell what to correct at `at`."""
        return _covering(self._fouling, at) is not None or _covering(self._drift, at) is not None

    def visits(self, start: int, end: int) -> list[int]:
        """When, in this time, a stretch between two visits ended: there the corrections are largest."""
        return sorted({each.end for each in (*self._fouling, *self._drift) if start <= each.end < end})

    def _take(self, at: int, entry: acts.Entry) -> None:
        match entry:
            case acts.Calibrated():
                points = [Point(*triple) for triple in entry.points]
                self._buffers(at, points, left=False)
                self._held.append(fit(points, at, self._held[-1]))
                self._clean_at = self._clean_at or at
            case acts.BufferCheck():
                self._buffers(at, [Point(entry.buffer_ph, entry.measured, entry.temperature_c)], left=True)
            case acts.Adjusted():  # by how much it was off, nobody says: what lies before stays as it was shown
                self._in_buffer = at, ()
                self._held.append(Calibration(self._held[0].quantity, at=at, name="adjusted"))
                self._clean_at = self._clean_at or at
            case acts.Cleaning():
                if entry.before is not None and entry.after is not None and self._clean_at is not None:
                    error = fouling_error(entry.before, entry.after, entry.meter_before, entry.meter_after)
                    self._fouling.append(Visits(self._clean_at, at, error))
                self._clean_at = at

    def _buffers(self, at: int, points: list[Point], *, left: bool) -> None:
        """What the probe read in buffers by the calibration that held; `left` is whether it goes on like that."""
        held = self._held[-1]
        read = [(held.ph(point.measured, point.temperature_c), point.buffer_ph) for point in points]
        errors = tuple(sorted((shown, drift_error(standard, shown)) for shown, standard in read))
        if self._in_buffer is not None:
            since, before = self._in_buffer
            self._drift.append(Visits(since, at, drift=errors, left=before))
        self._in_buffer = at, errors if left else ()


def _covering(stretches: list[Visits], at: int) -> Visits | None:
    """The stretch between two visits that `at` lies in; at a visit, the one that ends there."""
    found = bisect_left(stretches, at, key=lambda each: each.end)
    return stretches[found] if found < len(stretches) and stretches[found].start <= at else None
