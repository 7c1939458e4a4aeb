"""What follows from what people do: acts on alarms, at probes, at the water. The fold (pipeline.py) builds on it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, tzinfo
from typing import Final

from dawnline.acting_transmitter import adjust, at_transmitter
from dawnline.acting_waiting import JUST_NOW_MS, Waiting
from dawnline.alarms.desk import Desk
from dawnline.dosing.logged import ammonia_warning
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.duration import HOUR_MS, iso, show_duration
from dawnline.electrode.calibration import Point
from dawnline.electrode.due import PROBE_PH
from dawnline.electrode.electrode import Electrode
from dawnline.errors import InputError
from dawnline.event import Act, Effect, Verdict
from dawnline.logbook import acts
from dawnline.logbook.answer import Water, answer
from dawnline.logbook.ledger import about
from dawnline.logbook.reminders import Reminders
from dawnline.outlook.ammonia_watch import AmmoniaWatch
from dawnline.outlook.buffer_acts import bicarbonate_g, enter
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.hardness import bounds, finest_step
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.rain_book import RainBook
from dawnline.outlook.rain_gauge import RainGauge
from dawnline.outlook.settings import PondSettings
from dawnline.outlook.twin import calibrated
from dawnline.outlook.watch import Watch
from dawnline.reading import Flag


class Acting:
    """The acts of one pond's watch; `Pipeline` makes what they act upon."""

    now: int
    pond: PondSettings
    desk: Desk
    watches: dict[str, Watch]
    ph: list[PhWatch]
    buffer: BufferWatch
    ammonia: AmmoniaWatch
    rain: RainBook
    gauges: list[RainGauge]
    reminders: Reminders
    waiting: Waiting

    def act(self, act: Act, effects: list[Effect]) -> None:
        """Take one act: what follows from it, and the verdict on it."""
        try:
            entry = acts.read(act.kind, act.body)
            _not_ahead(entry, act.at, self.pond.zone)
            at_buffers = isinstance(entry, acts.Calibrated | acts.BufferCheck)
            there = at_transmitter(act, entry, self._ph_watch)
            said = self._in_buffers(act, entry) if at_buffers else self._said(act, entry)
            warned = self._warned(act, entry)
            said = f"{said}. {warned}" if warned else said
            effects += self._do(act, entry)
            enter(self.buffer, act, entry, self.pond)
            adjust(there, self.ph, self.buffer, act.at)
            self.ammonia.enter(act, entry, self.pond)
            self.rain.enter(act, entry)
            if self.rain.new:
                self.rained()
            self.reminders.take(act, entry)
        except InputError as error:
            effects.append(Verdict(act, accepted=False, text=str(error)))
        else:
            effects.append(Verdict(act, accepted=True, text=said))

    def rained(self) -> None:
        """The buffer lines take the rain as it is known now."""
        fell, self.rain.new = self.rain.counted(), False
        for line in self.buffer.of():
            line.rained(fell, self.pond.rain_depth_mm)

    def _said(self, act: Act, entry: acts.Entry) -> str:
        if isinstance(entry, acts.Record):
            said = answer(act.kind, entry, self.pond.units, self._water(act.at))
            beside = self.rain.beside(entry, about(entry, act.at)) if self.gauges else ""
            said = f"{said}. {beside}" if beside else said
            under_way = isinstance(entry, acts.Cleaning | acts.Adjusted) and about(entry, act.at) + entry.for_ > act.at
            return f"{said}; the probe's alarms are suppressed meanwhile" if under_way else said
        return _ACCEPTED.get(act.kind, "noted")

    def _warned(self, act: Act, entry: acts.Entry) -> str:
        """The warning after a dose, where there is ammonia that the raised pH makes poisonous."""
        dose = entry.corrected if isinstance(entry, acts.Correct) else entry
        if not isinstance(dose, acts.Dose) or self.ammonia.total is None or not self.ammonia.fresh(act.at):
            return ""
        water, zone = self._water(act.at), self.pond.zone
        highs = [high for _, _, high in self.ammonia.days if high is not None]
        tested = datetime.fromtimestamp(self.ammonia.tested_at / 1000, zone)
        pond = PondWater(
            litres=None if self.pond.volume_litres is None else Fact(self.pond.volume_litres, ""),
            kh=None if water.kh is None else Fact(sum(bounds(water.kh[0], finest_step([water.kh[0]]))) / 2.0, ""),
            ph=None if water.ph is None else Fact(water.ph, ""),
            dusk_ph=Fact(max(highs), "") if highs else None,
            celsius=None if water.celsius is None else Fact(water.celsius, ""),
            tan=Fact(self.ammonia.total, f"your test of {tested:%Y-%m-%d %H:%M}"),
        )
        return ammonia_warning(dose.what, bicarbonate_g(dose), pond)

    def _water(self, at: int) -> Water:
        """The water as it is known at `at` [ms]."""
        seen = [watch for watch in self.ph if watch.current is not None and watch.live(at)]
        seen.sort(key=lambda watch: self.desk.doubt(watch.probe) is not None)  # those that are believed come first
        ph, doubt = (seen[0].current, self.desk.doubt(seen[0].probe) is not None) if seen else (None, False)
        newest = [watch.newest for watch in self.watches.values() if watch.quantity == "temperature" and watch.newest]
        celsius = next((value for when, value, flag in newest if flag == Flag.GOOD and at - when <= HOUR_MS), None)
        tests = [row for line in self.buffer.of() for row in line.diary.entries if row[1] == "tested"]
        last = max(tests, default=None)
        return Water(ph, doubt, celsius, None if last is None else (last[2], show_duration(at - last[0])))

    def _do(self, act: Act, entry: acts.Entry) -> list[Effect]:
        """What follows from an act, beyond its being noted."""
        desk = self.desk
        match entry:
            case acts.Acknowledge():
                return desk.acknowledge(entry.id, act.at, act.actor, entry.note or "")
            case acts.Shelve():
                return desk.shelve(entry.id, act.at, act.at + entry.for_, act.actor, entry.why or entry.note or "")
            case acts.Unshelve():
                return desk.unshelve(entry.id, act.at, act.actor)
            case acts.HandTest(ph=float() as by_hand) if act.at - about(entry, act.at) <= JUST_NOW_MS:
                self.waiting.test(act.at, by_hand, self.ph)
            case acts.Correct(kind="hand-test", corrected=acts.HandTest() as test):
                self._retested(entry.at, test.ph, act.at)
            case acts.Withdraw():
                self._retested(entry.at, None, act.at)
            case acts.AtProbe():
                return self._out(entry, act, remove=act.kind == "out-of-service")
            case acts.ReturnProbe():
                back = self._watch(entry.probe)
                back.out_until = min(back.out_until, act.at)
                if isinstance(back, PhWatch):
                    back.electrode.end(act.at)
                return desk.give_back(self._keys(entry.probe), act.at, act.actor, act.kind)
        return self._explained(act, about(entry, act.at)) if act.kind in acts.EXPLAINED else []

    def _retested(self, at: int, ph: float | None, now: int) -> None:
        """A test by hand of `at` was corrected, or withdrawn."""
        self.waiting.amend(at, ph)
        for watch in self.ph:
            watch.retested(at, ph, now)

    def _explained(self, act: Act, at: int) -> list[Effect]:
        """A known act at the water: what it sets off is no alarm, and no fall is counted across it."""
        names, lasting = acts.EXPLAINED[act.kind]
        until = at + lasting
        if until <= act.at:
            return []
        keys: list[tuple[str, str | None]] = []
        for name, watch in self.watches.items():
            watch.forget(until)
            keys += [key for key in self._keys(name) if key[0] in names]
        return self.desk.suppress(keys, act.at, until, act.actor, act.kind)

    def _out(self, entry: acts.AtProbe, act: Act, *, remove: bool) -> list[Effect]:
        until, watch = about(entry, act.at) + entry.for_, self._watch(entry.probe)
        if until <= act.at:  # a visit that is over
            return []
        if isinstance(entry, acts.Calibration) and entry.outcome:
            self._ph_watch(entry.probe).electrode.begin(act.at, until)
            self.waiting.begin(self._ph_watch(entry.probe))
        elif remove and isinstance(watch, PhWatch):  # for whatever reason: nobody has said that it was seen to
            self.waiting.begin(watch)
        elif isinstance(watch, PhWatch):
            self._seen_to(watch)
        if isinstance(entry, acts.Calibration) and not entry.outcome and isinstance(watch, PhWatch):
            watch.doubt.forget()  # at its own interface: by how much it was off, nobody says
            for each in self.ph:
                each.twin.forget()
        twin = watch.twin.save() if isinstance(watch, PhWatch) else {}
        watch.begin_maintenance(act.at, until)
        if isinstance(watch, PhWatch) and watch.probe in self.waiting.against:
            watch.twin.restore(twin)  # else the others would be apart from one that is right
        cover = self.desk.remove if remove else self.desk.suppress
        effects = cover(self._keys(entry.probe), act.at, until, act.actor, act.kind)
        if isinstance(watch, PhWatch):  # a thermometer beside it is lifted out with it, and stands in the buffer too
            beside = [key for name, each in self.watches.items() if each.quantity == "temperature"
                      for key in self._keys(name) if key[0] in LIFTED]  # fmt: skip
            effects += self.desk.suppress(beside, act.at, until + SETTLES_MS, act.actor, act.kind)
        return effects

    def _in_buffers(self, act: Act, entry: acts.Entry) -> str:
        """A probe has stood in buffer solutions: what was found, in words. Raises InputError where it is refused."""
        if isinstance(entry, acts.BufferCheck):
            point, electrode = Point(entry.buffer_ph, entry.measured, entry.temperature_c), self._electrode(entry.probe)
            said = electrode.check(point, act.at)
            if abs(electrode.history.checks[-1].error) <= PROBE_PH:
                self._seen_to(self._ph_watch(entry.probe))
            for line in self.buffer.of(entry.probe):
                line.checked(act.at, electrode.history.checks[-1].error)
            return said
        assert isinstance(entry, acts.Calibrated)
        return self._calibrated(self._ph_watch(entry.probe), [Point(*triple) for triple in entry.points], act.at)

    def _calibrated(self, watch: PhWatch, points: list[Point], at: int) -> str:
        electrode, before = watch.electrode, watch.electrode.in_force
        said = electrode.calibrate(points, at)
        if watch.current is None:  # as far off as in the buffers
            error = sum(before.ph(each.measured, each.temperature_c) - each.buffer_ph for each in points) / len(points)
        else:
            celsius = electrode.celsius
            error = watch.current - electrode.in_force.ph(before.measured(watch.current, celsius), celsius)
            self._beside(watch, -error)
            watch.rebase(-error, at)
        self._seen_to(watch)
        for line in self.buffer.of(watch.probe):
            line.checked(at, error)
            line.calibrated(at)
        return said

    def _beside(self, watch: PhWatch, change: float) -> None:
        """`watch` shows `change` pH more from now on: what was usual beside it moves along, unless that parts them."""
        usual = {each.probe: each.twin.usual for each in self.ph}
        calibrated(self.ph, watch, change)
        for each in self.ph:
            before, now, twin = usual[each.probe], each.twin.usual, each.twin
            if before is not None and now is not None and abs(twin.beyond + now - before) < abs(twin.beyond):
                twin.shift(before - now)

    def _seen_to(self, watch: PhWatch) -> None:
        """What spoke against it does so no more, nor will what it was before speak against the others."""
        self.waiting.seen_to(watch.probe)
        watch.twin.forget()
        for each in self.ph:
            if each is not watch and not each.twin.blamed:
                each.twin.alone()

    def recall(self, done: Iterable[Act]) -> None:
        """What outlasts weeks, for a memory that is built anew: calibrations and checks from before it begins, and
        when what one is reminded of was done. What was refused then is to be left out.
        """
        for act in done:
            if act.kind in acts.IN_BUFFERS:
                self.act(act, [])
            elif act.kind in acts.RECALLED and (entry := acts.read_kept(act)) is not None:
                self.reminders.take(act, entry)
                adjust(at_transmitter(act, entry, self._ph_watch), self.ph, None, act.at)

    def _electrode(self, probe: str) -> Electrode:
        return self._ph_watch(probe).electrode

    def _ph_watch(self, probe: str) -> PhWatch:
        watch = self._watch(probe)
        if not isinstance(watch, PhWatch):
            raise InputError(f"{probe} measures {watch.quantity.replace('_', ' ')}: only a pH probe can be calibrated")
        return watch

    def _watch(self, probe: str) -> Watch:
        if probe not in self.watches:
            raise InputError(f"no probe is named {probe!r}; there are: {', '.join(self.watches)}")
        return self.watches[probe]

    def _keys(self, probe: str) -> list[tuple[str, str | None]]:
        """Every alarm that this probe can raise."""
        return [(alarm, probe) for alarm, _ in self.watches[probe].conditions(self.now, self.desk.deadbands)]


def _not_ahead(entry: acts.Entry, at: int, zone: tzinfo) -> None:
    """Raises InputError for an entry about a time that has not come."""
    if about(entry, at) > at + AHEAD_MS:
        raise InputError(f"when: {iso(about(entry, at), zone)} has not come yet: write the time it was done")


LIFTED: Final = ("probe-suspect", "temperature-low", "temperature-high")
SETTLES_MS: Final = HOUR_MS // 2  # until a thermometer that was lifted out is believed again
AHEAD_MS: Final = HOUR_MS  # how far the clock of who writes may be ahead
_ACCEPTED: Final = {
    "correct": "corrected; what was written before stays in the history",
    "withdraw": "withdrawn; it stays in the history",
    "acknowledge": "acknowledged",
    "shelve": "shelved",
    "unshelve": "shown again",
    "out-of-service": "out of service; it returns by itself when the time is over",
    "calibration": "noted; the probe's alarms are suppressed meanwhile",
    "return": "back in service",
}
