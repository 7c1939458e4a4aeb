"""The pipeline that a configuration describes."""

from __future__ import annotations

from dawnline.pipeline import Pipeline
from dawnline.settings import Settings


def make_pipeline(settings: Settings) -> Pipeline:
    """A new pipeline for the configured pond, with nothing in its memory."""
    probes = [(p.name, p.quantity, p.interval, p.span) for p in settings.probes]
    quality = {p.name: p.quality for p in settings.probes if p.quality is not None}
    compensated_by = {p.name: p.temperature for p in settings.probes if p.temperature is not None}
    gauges = {p.name: p.speech for p in settings.probes if p.quantity == "rain"}
    return Pipeline(
        settings.catalogue,
        settings.pond,
        probes,
        settings.limits,
        settings.alarms,
        quality=quality,
        calibration=settings.calibration,
        compensated_by=compensated_by,
        gauges=gauges,
        people=[person.in_force(settings.pond.zone) for person in settings.people],
        reminders=settings.reminders,
        weekly=settings.weekly,
    )
