"""What each act in the logbook means to the buffer lines; rain comes to them by way of rain_book.py."""

from __future__ import annotations

from hashlib import blake2s
from typing import Final

from dawnline.event import Act
from dawnline.logbook import acts
from dawnline.logbook.ledger import about
from dawnline.outlook.buffer_line import BufferLine
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import meq_l_from_dkh

# How far an act of unknown effect may move the level [pH]; common sense, no source.
AERATION_SD: Final = 0.15
MEDIA_SD: Final = 0.05
ICE_SD: Final = 0.15
DOSE_SD: Final = 0.3
CHANGE_SD: Final = 0.3  # times the share exchanged, where the new water's KH is not known
BICARBONATE: Final = ("bicarb", "nahco3", "baking soda", "natron")  # sodium bicarbonate, as people write it
# A level teaspoon (4.93 mL) of it weighs 4.6 g: USDA FoodData Central, "Leavening agents, baking soda", from memory.
BICARBONATE_G_PER_ML: Final = 4.6 / 4.92892159375
MEQ_PER_GRAM: Final = 1000.0 / 84.007  # NaHCO3; molar mass from IUPAC, abridged, from memory

# Acts that move the level, nobody knows how far [pH].
STEPS: Final[dict[type[acts.Entry], float]] = {
    acts.Aeration: AERATION_SD, acts.Media: MEDIA_SD, acts.Algaecide: DOSE_SD, acts.Medication: DOSE_SD,
}  # fmt: skip


def enter(buffer: BufferWatch, act: Act, entry: acts.Entry, pond: PondSettings) -> None:
    """Tell the buffer lines what was done or measured: at the time it is about, under the act it came from."""
    match entry:
        case acts.Correct():
            before = Act(entry.entry, entry.at, entry.kind, entry.body)
            withdraw(buffer, before.id)
            enter(buffer, before, entry.corrected, pond)
        case acts.Withdraw():
            withdraw(buffer, entry.entry)
        case acts.Cleaning():
            for line in buffer.of(entry.probe):
                line.cleaned(about(entry, act.at), source=source_of(act.id))
        case acts.Record():
            for line in buffer.of():
                _enter(line, entry, about(entry, act.at), pond, source_of(act.id))
        case _:
            for line in buffer.of(getattr(entry, "probe", None)):
                _at_probe(line, act, entry)


def withdraw(buffer: BufferWatch, act_id: str) -> None:
    """What came from this act never was."""
    for line in buffer.of():
        line.forget(source_of(act_id))


def source_of(act_id: str) -> str:
    """A short name for an act, whose own may be long."""
    return blake2s(act_id.encode("utf-8", "surrogatepass"), digest_size=6).hexdigest()


def _enter(line: BufferLine, entry: acts.Record, at: int, pond: PondSettings, source: str) -> None:
    match entry:
        case acts.HandTest(kh_dkh=float(read)):
            line.tested(at, read, entry.kh_step_dkh, source)
        case acts.WaterChange():
            share = entry.share if entry.share is not None else _share(entry.litres, pond)
            if share is None or entry.source_kh_dkh is None:
                line.stepped(at, CHANGE_SD * (share or 0.2), source)
            else:
                line.diluted(at, share, meq_l_from_dkh(entry.source_kh_dkh), source)
        case acts.TopUp():
            _topped_up(line, entry, at, pond, source)
        case acts.Dose():
            added = _bicarbonate(entry, pond)
            line.stepped(at, DOSE_SD, source) if added is None else line.added(at, added, source)
        case acts.Feed():
            line.feeding(at, entry.grams_a_day, source)
        case acts.Feeding():
            line.feeding(at, None if entry.state == "begun" else 0.0, source)
        case acts.Ice():
            line.iced(at, ICE_SD, source, covers=entry.state == "closed")
        case _ if type(entry) in STEPS:
            line.stepped(at, STEPS[type(entry)], source)


def _topped_up(line: BufferLine, entry: acts.TopUp, at: int, pond: PondSettings, source: str) -> None:
    """Evaporated water left its alkalinity behind: what is new comes on top, and nothing is thinned beyond what was."""
    litres = entry.litres if entry.mm is None else entry.mm * pond.surface_m2 if pond.surface_m2 else None
    share = _share(litres, pond)
    if share is None or entry.source_kh_dkh is None:
        line.stepped(at, CHANGE_SD * (share or 0.05), source)
    else:
        line.added(at, share * meq_l_from_dkh(entry.source_kh_dkh), source)


def _at_probe(line: BufferLine, act: Act, entry: acts.Entry) -> None:
    if isinstance(entry, acts.Calibration) and not entry.outcome:  # at the probe's own interface; else that tells
        line.calibrated(act.at)


def _share(litres: float | None, pond: PondSettings) -> float | None:
    return min(litres / pond.volume_litres, 1.0) if litres and pond.volume_litres else None


def bicarbonate_g(dose: acts.Dose) -> float | None:
    """How much sodium bicarbonate a dose is [g], by weight or by measure; None where it is none, or unmeasured."""
    if not any(name in dose.what.lower() for name in BICARBONATE):
        return None
    if dose.grams is None and dose.millilitres is not None:
        return dose.millilitres * BICARBONATE_G_PER_ML
    return dose.grams


def _bicarbonate(dose: acts.Dose, pond: PondSettings) -> float | None:
    """What a dose adds [meq/L], where it is so much bicarbonate in a known volume."""
    grams = bicarbonate_g(dose)
    return None if grams is None or not pond.volume_litres else grams * MEQ_PER_GRAM / pond.volume_litres
