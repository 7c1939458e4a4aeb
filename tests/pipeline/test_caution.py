"""No real fall is lost to caution: with every check on, and a memory of earlier years, the same alarms come as soon."""

from __future__ import annotations

from datetime import datetime

import pytest

from dawnline.catalogue_file import shipped
from dawnline.event import Transition
from dawnline.pipeline import Pipeline
from dawnline.quality.settings import CHECKS, QualitySettings
from dawnline.reading import Sample
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import simulate

from ..pond import POND

BEGIN = round(datetime.fromisoformat("2026-06-04T00:00:00+02:00").timestamp() * 1000)
MINUTE_MS = 60_000
ADDED = QualitySettings.model_validate({"off": [name for name in CHECKS if name not in ("usual", "spike")]})


def pond(quality: QualitySettings | None = None) -> Pipeline:
    """A pond whose Junes were calm, without much room below."""
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None)], quality={"ph": quality} if quality else None)
    pipe.watches["ph"].judge.climatology.months = {"6": [(2025, 7.2, 8.2)] * 30}
    return pipe


@pytest.mark.parametrize("interval", [60_000, 300_000], ids=lambda ms: f"{ms // 1000}s")
@pytest.mark.parametrize("name", ["acid-overdose", "cloudburst", "air-stops", "buffer-runs-out"])
def test_the_same_warnings_come_as_soon(name: str, interval: int) -> None:
    careful, bare = pond(), pond(ADDED)
    told: dict[str, dict[str, int]] = {"careful": {}, "bare": {}}
    for row in simulate(SCENARIOS[name], 1, BEGIN, None, interval):
        sample = Sample("ph", row.at, row.ph, row.at)
        for who, pipe in (("careful", careful), ("bare", bare)):
            for effect in pipe.step(sample):
                if isinstance(effect, Transition) and effect.change == "raised":
                    told[who].setdefault(effect.alarm, effect.at)
    warned = {alarm: at for alarm, at in told["bare"].items() if alarm != "probe-suspect"}
    assert warned
    assert set(warned) & {"ph-low", "ph-crash", "sudden-drop"}
    late = {alarm: (told["careful"].get(alarm, 1 << 62) - at) / MINUTE_MS for alarm, at in warned.items()}
    assert max(late.values()) <= 0, late


@pytest.mark.parametrize(("interval", "minutes"), [(30_000, 15), (60_000, 15), (300_000, 25)])
def test_acid_is_told_of_however_often_the_probe_speaks(interval: int, minutes: int) -> None:
    """A fall is no spike: not even where it crosses whole units between two readings."""
    pipe, crossed, warned = pond(), None, {}
    for row in simulate(SCENARIOS["acid-overdose"], 1, BEGIN, None, interval):
        if crossed is None and row.truth.ph < 6.5:
            crossed = row.at
        for effect in pipe.step(Sample("ph", row.at, row.ph, row.at)):
            if isinstance(effect, Transition) and effect.change == "raised":
                warned.setdefault(effect.alarm, effect.at)
    assert crossed is not None
    assert {"ph-crash", "ph-low", "sudden-drop"} <= set(warned)
    assert "probe-suspect" not in warned
    assert warned["ph-crash"] - crossed <= minutes * MINUTE_MS
