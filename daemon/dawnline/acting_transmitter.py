"""What follows where a probe was calibrated at its own transmitter, by its buttons, and where that is corrected."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from dawnline.duration import DAY_MS
from dawnline.electrode.calibration import MV
from dawnline.errors import InputError
from dawnline.event import Act
from dawnline.logbook import acts
from dawnline.logbook.ledger import about
from dawnline.outlook.buffer_acts import source_of
from dawnline.outlook.buffer_diary import Entry as Known
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.swing import Swing


class AtTransmitter(NamedTuple):
    """What the act of this `name` says: that `watch` was calibrated at its own transmitter `at` [ms]; None: no more."""

    name: str
    watch: PhWatch | None
    at: int


def at_transmitter(act: Act, entry: acts.Entry, find: Callable[[str], PhWatch]) -> AtTransmitter | None:
    """What an act says of such a calibration; `find` gives the watch of a pH probe. None where it says nothing of one.

    Raises InputError where the probe has no transmitter that could be calibrated, and as `find` does.
    """
    match entry:
        case acts.Adjusted():
            name, came, found = act.id, act.at, entry
        case acts.Correct(kind="adjusted", corrected=acts.Adjusted() as found):
            name, came = entry.entry, entry.at
        case acts.Withdraw():
            return AtTransmitter(entry.entry, None, 0)
        case _:
            return None
    watch = find(found.probe)
    if watch.quantity == MV:
        raise InputError(f"{found.probe} delivers millivolts, which no calibration at a transmitter alters")
    return AtTransmitter(name, watch, about(found, came))


def adjust(there: AtTransmitter | None, ph: Sequence[PhWatch], buffer: BufferWatch | None, now: int) -> None:
    """A probe among `ph` reads right since then, or an entry that said so was none. Without a `buffer`, in a memory
    that is built anew, only the calibrations follow.

    What speaks against the probe is forgotten where that is no longer than a day ago, but for tests by hand since.
    """
    if there is None:
        return
    name, watch, at = there
    fresh = [each for each in ph if each.electrode.take_back(name, now)]
    if watch is not None:
        watch.electrode.adjusted(at, name, now)
        fresh += [watch] if now - at <= DAY_MS and watch not in fresh else []
    if buffer is None:
        return
    for line in buffer.of(watch.probe) if watch is not None else ():
        line.diary.enter(Known(at, "calibrated", source=source_of(name)))
    for each in fresh:
        each.begin_maintenance(now, each.out_until)  # judged afresh, and out of service no longer than it is
        each.swing = Swing()
        for test in each.electrode.history.hand_tests:
            if test.at > max(at, now - DAY_MS):
                each.doubt.tested(test.at, test.by_probe - test.by_hand)
    if fresh:
        for each in ph:
            each.twin.forget()
