"""The logbook as the account reads it: tests, known steps, and the feed that is given."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Final, Literal, NamedTuple, TypeAlias, get_args

from dawnline.account.terms import rain_keeps
from dawnline.duration import HOUR_MS
from dawnline.event import Act
from dawnline.logbook import acts as logbook
from dawnline.outlook.buffer_acts import BICARBONATE, MEQ_PER_GRAM, bicarbonate_g
from dawnline.outlook.hardness import bounds, finest_step
from dawnline.outlook.rain_book import Fell, by_hand, counted
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import meq_l_from_dkh

Item: TypeAlias = Literal[
    "feed", "shell and the rest", "rain", "water changed", "topped up", "doses", "corrected by tests"
]
ITEMS: Final[tuple[Item, ...]] = get_args(Item)
UNKNOWN_DOSE_SD: Final = 0.3  # meq/L, of a dose whose effect cannot be told; common sense, as the next
UNKNOWN_SOURCE_SD: Final = 1.0  # meq/L, of new water whose KH nobody tested


class Tested(NamedTuple):
    """A test of KH: between which alkalinities [meq/L]."""

    at: int
    low: float
    high: float


class Stepped(NamedTuple):
    """A known step: this share stays, so much is added [meq/L], within `sd`. Like water `None` adds what it takes."""

    at: int
    item: Item
    keeps: float
    adds: float | None
    sd: float = 0.0


class Fed(NamedTuple):
    """Feed a day from here on [g], and its protein [%] where it was named."""

    at: int
    grams_a_day: float
    protein_percent: float | None


Line: TypeAlias = Tested | Stepped | Fed


def lines_of(done: Iterable[Act], pond: PondSettings, rain: Sequence[Fell] | None = None) -> list[Line]:
    """The lines of these accepted acts, in the order of their times; of `rain` in place of the rain in the logbook."""
    in_order = sorted(done, key=lambda act: act.at)
    rows = [(act, entry) for act in in_order if (entry := logbook.read_kept(act)) is not None]
    readings = [entry.kh_dkh for _, entry in rows if isinstance(entry, logbook.HandTest) and entry.kh_dkh is not None]
    kit = finest_step(readings) if readings else 1.0
    lines: list[Line] = []
    for act, entry in rows:
        line = _fed(lines, act.at, entry) or _line(act.at, entry, pond, kit)
        lines += [] if line is None else [line]
    if pond.rain_depth_mm is not None:
        lines += _rained(counted([], by_hand(in_order)) if rain is None else rain, pond.rain_depth_mm)
    return sorted(lines, key=lambda line: line.at)


def _rained(rain: Sequence[Fell], depth_mm: float) -> Iterator[Stepped]:
    """Rain by the hour: water of no alkalinity that mixes in as it falls."""
    for _, fell in groupby(rain, key=lambda each: each.at // HOUR_MS):
        rows = list(fell)
        yield Stepped(rows[-1].at, "rain", rain_keeps(sum(each.mm for each in rows), depth_mm), 0.0)


def _fed(lines: Sequence[Line], at: int, entry: logbook.Entry) -> Fed | None:
    """What is fed from now on; feeding that begins again gives as much as before."""
    if isinstance(entry, logbook.Feed):
        return Fed(at, entry.grams_a_day, entry.protein_percent)
    if not isinstance(entry, logbook.Feeding):
        return None
    fed = [line for line in lines if isinstance(line, Fed) and line.grams_a_day > 0.0]
    if entry.state == "stopped":
        return Fed(at, 0.0, None)
    return fed[-1]._replace(at=at) if fed else None


def _line(at: int, entry: logbook.Entry, pond: PondSettings, kit: float) -> Line | None:
    match entry:
        case logbook.HandTest(kh_dkh=float(read)):
            return Tested(at, *bounds(read, entry.kh_step_dkh or kit))
        case logbook.WaterChange():
            return _changed(at, entry.share or _share(entry.litres, pond) or 0.2, entry.source_kh_dkh)
        case logbook.Dose():
            return _dosed(at, entry, pond)
        case logbook.TopUp():
            return _topped_up(at, entry, pond)
    return None


def _changed(at: int, share: float, source_kh_dkh: float | None) -> Stepped:
    if source_kh_dkh is None:
        return Stepped(at, "water changed", 1.0 - share, None, share * UNKNOWN_SOURCE_SD)
    return Stepped(at, "water changed", 1.0 - share, share * meq_l_from_dkh(source_kh_dkh))


def _topped_up(at: int, entry: logbook.TopUp, pond: PondSettings) -> Stepped | None:
    """Water that evaporated left its alkalinity behind; what takes its place brings its own."""
    litres = entry.litres
    if litres is None and entry.mm is not None and pond.surface_m2:
        litres = entry.mm * pond.surface_m2
    share = _share(litres, pond)
    if share is None:
        return None
    if entry.source_kh_dkh is None:
        return Stepped(at, "topped up", 1.0, 0.0, share * UNKNOWN_SOURCE_SD)
    return Stepped(at, "topped up", 1.0, share * meq_l_from_dkh(entry.source_kh_dkh))


def _dosed(at: int, dose: logbook.Dose, pond: PondSettings) -> Stepped | None:
    if not any(name in dose.what.lower() for name in BICARBONATE):
        return None
    grams = bicarbonate_g(dose)
    if grams is None or not pond.volume_litres:
        return Stepped(at, "doses", 1.0, 0.0, UNKNOWN_DOSE_SD)
    return Stepped(at, "doses", 1.0, grams * MEQ_PER_GRAM / pond.volume_litres)


def _share(litres: float | None, pond: PondSettings) -> float | None:
    return min(litres / pond.volume_litres, 1.0) if litres and pond.volume_litres else None
