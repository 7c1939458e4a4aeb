"""What each act in the logbook means to the buffer lines."""

from __future__ import annotations

from math import exp
from typing import Final

from dawnline.logbook import acts
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import meq_l_from_dkh

# How far an act of unknown effect may move the level [pH]; common sense, no source.
AERATION_SD: Final = 0.15
MEDIA_SD: Final = 0.05
DOSE_SD: Final = 0.3
CHANGE_SD: Final = 0.3  # times the share exchanged, where the new water's KH is not known
RAIN_SD: Final = 0.05
BICARBONATE: Final = ("bicarb", "nahco3", "baking soda", "natron")  # sodium bicarbonate, as people write it
MEQ_PER_GRAM: Final = 1000.0 / 84.007  # NaHCO3; molar mass from IUPAC, abridged, from memory


def enter(buffer: BufferWatch, kind: str, entry: acts.Entry, at: int, pond: PondSettings) -> None:
    """Tell the buffer lines what was done or measured at `at` [ms]."""
    for line in buffer.of(entry.probe if isinstance(entry, acts.AtProbe) else None):
        match entry:
            case acts.HandTest(kh_dkh=float(read)):
                line.tested(at, read, entry.kh_step_dkh)
            case acts.WaterChange():
                share = entry.share if entry.share is not None else _share(entry.litres, pond)
                if share is None or entry.source_kh_dkh is None:
                    line.stepped(at, CHANGE_SD * (share or 0.2))
                else:
                    line.diluted(at, share, meq_l_from_dkh(entry.source_kh_dkh))
            case acts.Dose():
                added = _bicarbonate(entry, pond)
                line.stepped(at, DOSE_SD) if added is None else line.added(at, added)
            case acts.Rain():
                depth_mm = pond.volume_litres / pond.surface_m2 if pond.volume_litres and pond.surface_m2 else None
                line.stepped(at, RAIN_SD) if depth_mm is None else line.rained(at, exp(-entry.mm / depth_mm))
            case acts.Feed():
                line.feeding(at, entry.grams_a_day)
            case acts.Aeration():
                line.stepped(at, AERATION_SD)
            case acts.Media():
                line.stepped(at, MEDIA_SD)
            case acts.Calibration(outcome=False):  # done at the probe's own interface; else its outcome tells
                line.calibrated(at)
            case acts.AtProbe() if kind == "cleaning":
                line.cleaned(at)


def _share(litres: float | None, pond: PondSettings) -> float | None:
    return min(litres / pond.volume_litres, 1.0) if litres and pond.volume_litres else None


def _bicarbonate(dose: acts.Dose, pond: PondSettings) -> float | None:
    """What a dose adds [meq/L], where it is bicarbonate of known weight in a known volume."""
    named = any(name in dose.what.lower() for name in BICARBONATE)
    if not named or dose.grams is None or not pond.volume_litres:
        return None
    return dose.grams * MEQ_PER_GRAM / pond.volume_litres
