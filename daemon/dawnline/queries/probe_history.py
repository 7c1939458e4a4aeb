"""What was done at one pH probe: calibrations, checks and cleanings as they stand, the trend, and when it wears out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import Any, Final, NamedTuple

from dawnline.electrode.calibration import MV, Calibration
from dawnline.electrode.electrode import describe
from dawnline.electrode.layer import Layer
from dawnline.electrode.wear import Trend, offset_trend, slope_trend, wear
from dawnline.event import Act
from dawnline.logbook.acts import CARE
from dawnline.logbook.ledger import standing
from dawnline.probes.settings import ProbeSettings
from dawnline.store.reader import Reader

REFUSED: Final = "refused: "


class ProbeHistory(NamedTuple):
    """Each act with what it found, in words, by time; and the calibrations that came into force."""

    shown: Sequence[tuple[Act, str]]
    kept: Sequence[Calibration]

    def trend(self, zone: tzinfo) -> list[str]:
        """How slope and offset change, and how long the electrode will last, a line each."""
        unit = "mV" if self.kept and self.kept[-1].quantity == MV else "pH"
        slope, offset = slope_trend(self.kept), offset_trend(self.kept)
        return [
            f"slope     {_rate(slope, '%', 2)}",
            f"offset    {_rate(offset, unit, 1 if unit == 'mV' else 3)}",
            f"electrode: {wear(self.kept, zone).text}",
        ]


def probe_history(reader: Reader, probe: ProbeSettings) -> ProbeHistory:
    """All that was done at this pH probe, what was refused too."""
    rows = reader.acts()
    said = {row.act.id: row.text for row in rows}
    done = standing(row.act for row in rows if row.accepted)
    layer = Layer(probe.name, probe.quantity, done)
    shown = [(act, _line(act, said[act.id], layer)) for act in done if _at(act, probe.name)]
    shown += [(row.act, f"{REFUSED}{row.text}") for row in rows if not row.accepted and _at(row.act, probe.name)]
    return ProbeHistory(sorted(shown, key=lambda each: each[0].at), layer.calibrations)


def _at(act: Act, probe: str) -> bool:
    return act.kind in CARE and act.body.get("probe") == probe


def _line(act: Act, said: str, layer: Layer) -> str:
    """What was done, in a line; `said` is what was answered then."""
    if act.kind == "calibrated":
        slow = act.body.get("settled_s")
        found = describe(layer.in_force(act.at))
        return found + (f", steady after {float(slow):.0f} s" if slow is not None else "")
    if act.kind == "adjusted":
        return "calibrated at its own transmitter"
    return said.partition(": ")[2] if act.kind == "buffer-check" else _cleaning(act.body)


def _cleaning(body: Any) -> str:
    keys = ("before", "after", "meter_before", "meter_after")
    return ", ".join(f"{key.replace('_', ' ')} {float(body[key]):.2f}" for key in keys if key in body)


def _rate(found: Trend | None, unit: str, digits: int) -> str:
    if found is None:
        return "no trend yet: it takes three calibrations over a month"
    sure = "" if found.clear else ", which may be chance"
    return f"{found.a_month:+.{digits}f} {unit} a month, give or take {2 * found.error:.{digits}f}{sure}"
