"""The watch that a probe gets, by what it measures."""

from __future__ import annotations

from typing import TypeAlias

from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.electrode import Electrode
from dawnline.electrode.settings import CalibrationSettings
from dawnline.outlook.oxygen_watch import OxygenWatch
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.rain_gauge import RainGauge
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sun import Sun
from dawnline.outlook.thermometer import Thermometer
from dawnline.outlook.watch import Watch
from dawnline.quality.judge import Judge
from dawnline.quality.rain_judge import RainJudge
from dawnline.quality.settings import QualitySettings, Speech

Probe: TypeAlias = tuple[str, str, int | None, tuple[float, float] | None]
"""Name, quantity, interval [ms] and span of one probe."""
Gauge: TypeAlias = tuple[Speech, float | None]
"""How a rain gauge speaks, and where its total rolls over [mm]."""


def make_watch(
    probe: Probe,
    sun: Sun,
    limits: LimitSettings,
    quality: QualitySettings | None,
    calibration: CalibrationSettings | None,
    *,
    compensated: bool,
    gauge: Gauge | None,
) -> Watch:
    """The watch over one probe; `compensated` by a thermometer."""
    name, quantity, interval, span = probe
    if quantity == "rain":
        speech, rolls_over = gauge or ("accumulation", None)
        return RainGauge(name, RainJudge(speech, rolls_over, interval=interval, span=span, quality=quality))
    judge = Judge(quantity, interval=interval, span=span, quality=quality)
    if quantity in IDEAL:
        return PhWatch(name, judge, sun, limits, Electrode(quantity, calibration, compensated=compensated))
    if quantity == "temperature":
        return Thermometer(name, judge, limits)
    if quantity == "dissolved_oxygen":
        return OxygenWatch(name, judge, limits)
    return Watch(name, quantity, judge)
