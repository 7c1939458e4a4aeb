"""The one fold: events in, effects out. The service, the demo, `replay` and the benchmarks all run this.

It owns no clock: pond time arrives with the events and it makes its own tick at each whole minute that passes. The
same events give the same effects; `save` and `restore` carry the whole memory, so that a fold in pieces equals a fold
in one go.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from operator import index
from typing import Any, Final

from dawnline.acting import Acting
from dawnline.acting_waiting import Waiting
from dawnline.alarms.catalogue import Catalogue
from dawnline.alarms.desk import Desk
from dawnline.alarms.settings import AlarmSettings
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.electrode.electrode import Electrode
from dawnline.electrode.settings import CalibrationSettings
from dawnline.event import Act, Delivered, Effect, Event, Keep, Problem, Rainfall, Storing
from dawnline.logbook.reminders import NONE as NO_REMINDERS
from dawnline.logbook.reminders import Reminders, ReminderSettings
from dawnline.outlook.ammonia_watch import ALARM as AMMONIA_ALARM
from dawnline.outlook.ammonia_watch import AmmoniaWatch
from dawnline.outlook.buffer_watch import ALARM as BUFFER_ALARM
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.finding import Condition
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.rain_book import RainBook
from dawnline.outlook.rain_gauge import RainGauge
from dawnline.outlook.reach import Reach
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.storage import ALARM as STORE_ALARM
from dawnline.outlook.storage import Storage
from dawnline.outlook.sun import Sun
from dawnline.outlook.thermometer import Thermometer
from dawnline.outlook.twin import compare
from dawnline.outlook.unset import Unset
from dawnline.outlook.watch import Watch
from dawnline.outlook.watches import Gauge, Probe, make_watch
from dawnline.people.last_night import last_night
from dawnline.people.person import Person
from dawnline.people.reminding import Reminding
from dawnline.people.telling import Telling
from dawnline.people.weekly import Weekly, WeeklySettings
from dawnline.quality.settings import QualitySettings
from dawnline.reading import Flag, Sample

AFRESH_MS: Final = 10 * MINUTE_MS  # from when a probe is back: what a thermometer shows is then water again
STATE_VERSION: Final = 18
# After so long a silence the longest shelf and off-delay (7 d each) are over: days are stepped then, not minutes.
LONG_GAP_MS: Final = 9 * DAY_MS
_CLEAR: Final = Condition.CLEAR
_PARTS: Final = (
    "desk", "telling", "reach", "storage", "buffer", "ammonia", "rain", "reminders", "reminding", "weekly", "waiting"
)  # fmt: skip


class Pipeline(Acting):
    """The state of one pond's watch. Not thread-safe: one thread runs the fold."""

    def __init__(
        self,
        catalogue: Catalogue,
        pond: PondSettings,
        probes: Sequence[Probe],
        limits: LimitSettings | None = None,
        alarms: Mapping[str, AlarmSettings] | None = None,
        *,
        quality: Mapping[str, QualitySettings] | None = None,
        calibration: CalibrationSettings | None = None,
        compensated_by: Mapping[str, str] | None = None,
        gauges: Mapping[str, Gauge] | None = None,
        people: Sequence[Person] = (),
        reminders: ReminderSettings | None = None,
        weekly: WeeklySettings | None = None,
    ) -> None:
        """`compensated_by` names the thermometer of each pH probe that has one, `gauges` says how each gauge speaks
        and where it rolls over [mm]. Without `reminders` there are none, nor a weekly report without `weekly`.
        """
        thermometers = compensated_by or {}
        sun = Sun(pond.latitude, pond.longitude, pond.zone)
        self.now = 0
        self.next_minute = 0
        self.desk = Desk(catalogue, pond.zone, alarms)
        self.reach = Reach()
        self.storage = Storage()
        self.unset = Unset()
        self.watches: dict[str, Watch] = {}
        for probe in probes:
            name = probe[0]
            self.watches[name] = make_watch(
                probe, sun, limits or LimitSettings(), (quality or {}).get(name), calibration,
                compensated=name in thermometers, gauge=(gauges or {}).get(name),
            )  # fmt: skip
        self.ph = [watch for watch in self.watches.values() if isinstance(watch, PhWatch)]
        self._thermometers = [watch for watch in self.watches.values() if isinstance(watch, Thermometer)]
        self._warming: dict[str, list[Electrode]] = {}
        for name, thermometer in thermometers.items():
            self._warming.setdefault(thermometer, []).append(self._ph_watch(name).electrode)
        self.pond = pond
        self.buffer = BufferWatch([watch.probe for watch in self.ph], sun, limits or LimitSettings())
        self.ammonia = AmmoniaWatch(sun, limits or LimitSettings())
        self.gauges = [watch for watch in self.watches.values() if isinstance(watch, RainGauge)]
        self.rain = RainBook()
        self.reminders = Reminders(reminders or NO_REMINDERS, pond.zone, [w.probe for w in self.ph], catalogue.words)
        self.reminding = Reminding(self.reminders, people, pond.name, pond.zone)
        self.weekly = Weekly(weekly, people, pond.name, pond.zone, catalogue.words)
        self.waiting = Waiting()
        self._strangers: set[str] = set()
        self.telling = Telling(people, pond.name, self.desk, self.reach, night=self._last_night)

    # ------------------------------------------------------------ the fold

    def step(self, event: Event) -> list[Effect]:
        """Take one event; gives what follows from it, ticks of the minutes that passed included."""
        if type(event) is Sample:
            effects = self.advance(event.received_at) if event.received_at >= self.next_minute else []
            self._sample(event, effects)
            return effects
        effects = self.advance(event.at)
        if isinstance(event, Act):
            said = len(effects)
            self.act(event, effects)
            self._tell(event.at, effects, said)
        elif isinstance(event, Delivered):
            self.reach.take(event)
        elif isinstance(event, Storing):
            self.storage.take(event)
        return effects

    def advance(self, at: int) -> list[Effect]:
        """Pond time has reached `at`: every whole minute up to it ticks."""
        effects: list[Effect] = []
        if self.now == 0:
            self.next_minute = at - at % MINUTE_MS + MINUTE_MS
        long_after = self.now + LONG_GAP_MS
        while at >= self.next_minute:
            self.now = self.next_minute
            leap = self.now > long_after and at - self.now > DAY_MS
            self.next_minute += DAY_MS if leap else MINUTE_MS
            said = len(effects)
            self._minute(self.now, effects)
            self._tell(self.now, effects, said)
        self.now = max(self.now, at)
        return effects

    def begin_unset(self, at: int) -> None:
        """From `at` [ms] on time is provisional (outlook/unset): days mean nothing, the memory is not to be saved."""
        self.advance(at)
        self.unset.begin(at, self.watches.values(), self.desk.memory)
        self.waiting.forget()

    def finish(self) -> list[Effect]:
        """The input has ended: the running days, marked partial. Changes nothing that a later event relies on."""
        effects: list[Effect] = []
        for watch in self.ph:
            day = watch.rhythm.so_far(self.now, watch.interval)
            effects += [day] if day is not None else []
        for gauge in self.gauges:
            effects += gauge.so_far()
        return effects

    def _sample(self, sample: Sample, effects: list[Effect]) -> None:
        self.now = max(self.now, sample.received_at)
        watch = self.watches.get(sample.probe)
        if watch is None:
            if sample.probe not in self._strangers and len(self._strangers) < 100:
                self._strangers.add(sample.probe)
                effects.append(Problem(sample.at, f"no probe is named {sample.probe!r}; its values are ignored"))
            return
        judged = sample if self.unset.since is None else self.unset.judged(sample)
        reading = watch.take(judged)
        if reading is not None:
            effects.append(Keep(reading if judged is sample else reading._replace(at=sample.at)))
            if sample.probe in self._warming and reading.flag is Flag.GOOD:
                for electrode in self._warming[sample.probe]:
                    electrode.warm(judged.at, sample.value)

    def _minute(self, at: int, effects: list[Effect]) -> None:
        desk = self.desk
        memory = desk.memory
        if memory:
            effects += desk.tick(at)
            effects += desk.retire([key for key in memory if key[1] is not None and key[1] not in self.watches], at)
        if self.reach.ways or ("delivery-failing", None) in memory:
            effects += desk.see(self.unset.marked(self.reach.finding(at)))
        if self.storage.since is not None or (STORE_ALARM, None) in memory:
            effects += desk.see(self.unset.marked(self.storage.finding(at)))
        if self.unset.since is not None or ("clock-unset", None) in memory:
            effects += desk.see(self.unset.finding(at))
        self._close(at, effects)
        self.waiting.minute(at, self.ph)
        for name, watch in self.watches.items():
            for alarm, condition in watch.conditions(at, desk.deadbands):
                if condition is not _CLEAR or (alarm, name) in memory:
                    finding = watch.finding(alarm, condition, at)
                    if alarm == "ph-high":
                        finding = self.ammonia.graver(finding)
                    finding = self.rain.explained(finding)
                    effects += desk.see(self.unset.marked(finding))
        self._buffer(at, effects)
        self._ammonia(at, effects)
        if self.unset.since is None:
            effects += self.reminding.minute(at, self.buffer.latest)
            effects += self.weekly.minute(at)

    def _tell(self, at: int, effects: list[Effect], said: int) -> None:
        """The messages that follow from the effects from number `said` on, and those whose time has come."""
        if len(effects) > said:
            self.telling.take(effects[said:])
        effects += self.telling.decide(at)

    def _last_night(self, at: int) -> str:
        return last_night(self.desk.catalogue.words, self.watches.values(), at, self.pond.zone, self.desk.doubt)

    def _buffer(self, at: int, effects: list[Effect]) -> None:
        """Once a morning the buffer line; its alarm by day. Not while time is provisional."""
        if self.unset.since is not None:
            return
        if self.rain.new and at % HOUR_MS == 0:
            self.rained()
        effects += self.buffer.minute(at, self.ph, self._thermometers)
        if self.buffer.condition == Condition.MET or (BUFFER_ALARM, None) in self.desk.memory:
            finding = self.buffer.finding(at)
            effects += [] if finding is None else self.desk.see(finding)

    def _ammonia(self, at: int, effects: list[Effect]) -> None:
        """What the last test of ammonia means. Not while time is provisional: how old the test is cannot be told."""
        if self.unset.since is not None:
            return
        self.ammonia.minute(at, self.ph, self._thermometers)
        if self.ammonia.condition == Condition.MET or (AMMONIA_ALARM, None) in self.desk.memory:
            effects += self.desk.see(self.ammonia.finding(at))

    def _close(self, at: int, effects: list[Effect]) -> None:
        """The minute has ended for each probe; then what the probes of one pond say of one another."""
        water_c = self._thermometers[0].present(at) if self._thermometers else None
        for ph in self.ph:
            ph.warm(water_c)
        for watch in self.watches.values():
            said = watch.minute(at)
            if said:
                effects += said
                if watch in self.gauges[:1]:
                    self.rain.fell(each for each in said if isinstance(each, Rainfall))
        if len(self.ph) > 1:
            compare(self.ph, at)
        if any(at - ph.out_until < AFRESH_MS for ph in self.ph):
            for thermometer in self._thermometers:  # it may have been lifted out along with the probe
                thermometer.minutes.clear()
        elif any(thermometer.leapt() for thermometer in self._thermometers):
            for ph in self.ph:
                ph.sick.thermometer_moved(at)

    # ------------------------------------------------------------ memory

    @property
    def changed(self) -> bool:
        """Whether the memory of alarms, and of who was told, differs from what was kept last."""
        return self.desk.changed or self.telling.changed

    def kept(self) -> None:
        """That memory has been kept."""
        self.desk.changed = self.telling.changed = False

    def alarm_memory(self) -> dict[str, Any]:
        """The memory of alarms, and of who was told what, as plain JSON values."""
        return {**self.desk.save(), "telling": self.telling.save()}

    def save(self) -> dict[str, Any]:
        """The whole memory as plain JSON values."""
        return {
            "version": STATE_VERSION,
            "now": self.now,
            "next_minute": self.next_minute,
            **{name: getattr(self, name).save() for name in _PARTS},
            "watches": {name: watch.save() for name, watch in self.watches.items()},
        }

    def restore(self, saved: Mapping[str, Any]) -> None:
        """Take back what `save` gave; a probe that is new begins anew, one that is gone is forgotten.

        Raises ValueError for a memory of another version or shape; the pipeline is then not to be used.
        """
        version = saved.get("version") if isinstance(saved, Mapping) else None
        if version != STATE_VERSION:
            raise ValueError(f"saved state has version {version!r}, this program reads {STATE_VERSION}")
        try:
            self.now, self.next_minute = index(saved["now"]), index(saved["next_minute"])
            for name in _PARTS:
                getattr(self, name).restore(saved[name])
            for name, watch in self.watches.items():
                if name in saved["watches"]:
                    watch.restore(saved["watches"][name])
        except (LookupError, TypeError, AttributeError, ArithmeticError, OSError) as error:
            raise ValueError(f"saved state has another shape ({error!r})") from error
