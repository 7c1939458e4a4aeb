"""What a keeper does at the probes, and to the alarms."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from dawnline.duration import HOUR_MS, Duration
from dawnline.logbook.entry import AtProbe, Entry, Label, Name, Ph, Record

Episode = Annotated[int, Field(ge=1, lt=2**53)]
Triple = tuple[Ph, Annotated[float, Field(ge=-2000, le=2000)], Annotated[float, Field(ge=-2, le=60)]]


def _triples(found: Any) -> Any:
    """Points as a keeper writes them in one word; a list stays as it is."""
    if not isinstance(found, str):
        return found
    points = [part.split(":") for part in found.replace(",", " ").split()]
    if not points or any(len(point) != 3 for point in points):
        raise ValueError('expected the pH of the buffer, what was measured and degC, such as "7.02:-1.3:20.5"')
    return points


class OutOfService(AtProbe):
    """A probe taken out of service; it comes back by itself when the time is over."""

    for_: Annotated[Duration, Field(alias="for", gt=0, le=48 * HOUR_MS)]


class Cleaning(AtProbe, Record):
    """A probe cleaned; where they were read, pH just before and after, by the probe and by an independent meter.

    A visit that is noted later says when it was, and one that was noted wrongly is corrected like any entry.
    """

    before: Annotated[Ph | None, Label("before")] = None
    after: Annotated[Ph | None, Label("after")] = None
    meter_before: Annotated[Ph | None, Label("meter before")] = None
    meter_after: Annotated[Ph | None, Label("meter after")] = None

    @model_validator(mode="after")
    def _in_pairs(self) -> Self:
        if (self.before is None) != (self.after is None) or (self.meter_before is None) != (self.meter_after is None):
            raise ValueError("readings around a cleaning come in pairs: before and after, meter_before and meter_after")
        if self.meter_before is not None and self.before is None:
            raise ValueError("the meter's readings say something only beside the probe's: before and after")
        return self


class Adjusted(AtProbe, Record):
    """A probe of finished pH calibrated at its own transmitter, by its buttons: it reads right from then on.

    By how much it was off before, nobody says, so nothing it said before is compared with what it says since.
    """


class Calibration(AtProbe):
    """Work at a probe that is to be calibrated begins; with `outcome`, `calibrated` or `buffer-check` will follow."""

    outcome: bool = False


class Calibrated(Entry):
    """What a probe measured in one to three buffers: triples of the buffer's pH, what was measured, and degC.

    In words: "7.02:-1.3:20.5, 10.06:-171:20.5". What was measured is in the probe's own unit. `settled_s` is how long
    the slowest took to be steady.
    """

    probe: Annotated[Name, Label("probe")]
    points: Annotated[tuple[Triple, ...], BeforeValidator(_triples), Field(min_length=1, max_length=3), Label("at")]
    settled_s: Annotated[float, Field(ge=0, le=86_400)] | None = None


class BufferCheck(Entry):
    """A quick check in one buffer, nothing adjusted; `measured` in the probe's own unit (mV or pH)."""

    probe: Annotated[Name, Label("probe")]
    buffer_ph: Annotated[Ph, Label("buffer")]
    measured: Annotated[Annotated[float, Field(ge=-2000, le=2000)], Label("measured")]
    temperature_c: Annotated[float, Field(ge=-2, le=60)] = 25.0
    settled_s: Annotated[float, Field(ge=0, le=86_400)] | None = None


class ReturnProbe(Entry):
    """A probe is back."""

    probe: Annotated[Name, Label("probe")]


class Acknowledge(Entry):
    """Somebody has an alarm."""

    id: Annotated[Episode, Label("alarm")]


class Shelve(Entry):
    """An alarm hidden for a stated time, a week at most, one of high priority a day; the journal keeps `why`."""

    id: Annotated[Episode, Label("alarm")]
    for_: Annotated[Duration, Field(alias="for", gt=0, le=168 * HOUR_MS)]
    why: Annotated[Annotated[str, Field(min_length=1, max_length=200)] | None, Label("because")] = None


class Unshelve(Entry):
    """A shelved alarm shown again."""

    id: Annotated[Episode, Label("alarm")]


PROBE_KINDS: dict[str, type[Entry]] = {
    "calibration": Calibration,
    "calibrated": Calibrated,
    "buffer-check": BufferCheck,
}
# Kept by `alarms` and `probes`, not by `logbook`.
DESK_KINDS: dict[str, type[Entry]] = {
    "out-of-service": OutOfService,
    "return": ReturnProbe,
    "acknowledge": Acknowledge,
    "shelve": Shelve,
    "unshelve": Unshelve,
}
