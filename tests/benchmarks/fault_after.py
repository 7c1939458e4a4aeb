"""Acid soon after an instrument's fault has ended: whoever is careful with a probe must not lose a real fall.

A stand is drawn as the faults' are, and a fault of each class in turn befalls its probe, for two days at most; it ends
by itself, and 5 min to 6 h later acid goes into the water. Beside it the same acid meets the same probe that never
failed: what is late there, too, is not the fault's.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from random import Random

from fault_cases import WARM_UP_DAYS, Case, case
from fault_events import LATE_MS, LIMIT, LOST_MS, Event
from fault_fold import PROBE_ALARMS, Fall, Record, fold
from fault_ponds import DAY_MS, HOUR_MS, MINUTE_MS, ZONE, Series, Stand, draw, series

from dawnline_simulator.happenings import Acid

AFTERS = 54
STANDS_FROM = 2_000  # stands that no fault and no other event has seen
LONGEST_H = 48.0
LEAST_DELAY_MIN, MOST_DELAY_MIN = 5.0, 360.0
CROSSES_MS = 4 * HOUR_MS  # the acid goes in over three hours at most
AFTER, HEALTHY = "acid after fault", "  never failed"


def run(number: int, seed: int) -> list[Event]:
    """Story `number`, and the same without the fault; nothing where the true pH does not pass the limit by it."""
    stand = draw(seed, STANDS_FROM + number)
    before = series(stand, WARM_UP_DAYS + 2.1)
    one = case(seed, number, stand, before)
    one = replace(one, last=min(one.last, one.first + round(LONGEST_H * HOUR_MS) // stand.interval_ms))
    dice = Random(f"{seed}/after/{number}")
    ended = stand.start + one.last * stand.interval_ms
    delay = LEAST_DELAY_MIN * (MOST_DELAY_MIN / LEAST_DELAY_MIN) ** dice.random()
    begin = (ended + round(delay * MINUTE_MS)) // MINUTE_MS * MINUTE_MS
    acid = _acid(stand, begin, dice)
    end = begin + CROSSES_MS + LOST_MS + LATE_MS
    stand = replace(stand, scenario=replace(stand.scenario, happenings=(acid,), days=20))
    data = series(stand, (end - stand.start) / DAY_MS)
    crossed = _crossed(data, begin)
    if crossed is None:
        return []
    words = f"{one.sort}, {one.fault.words}, for {(one.last - one.first) * stand.interval_ms / HOUR_MS:.0f} h; "
    words += f"{delay:.0f} min later {acid.dose_meq_l:.2f} meq/L in {acid.hours:.2f} h; {stand.words()}"
    records = _both(one, stand, data)
    return [
        _event(name, f"{number}, {words}", stand, data, record, begin, crossed)
        for name, record in zip((AFTER, HEALTHY), records, strict=True)
    ]


def _acid(stand: Stand, at: int, dice: Random) -> Acid:
    local = datetime.fromtimestamp(at / 1000, ZONE)
    day = (local.date() - datetime.fromtimestamp(stand.start / 1000, ZONE).date()).days + 1
    dose = stand.scenario.alkalinity_meq_l * dice.uniform(0.6, 1.1)
    return Acid(day, f"{local:%H:%M}", 0.03 * 100.0 ** dice.random(), dose)


def _crossed(data: Series, begin: int) -> int | None:
    """When the true pH passes the limit by the acid; None where it does not, or was below it within the day before."""
    rows = list(zip(data.at, data.truth, strict=True))
    if any(ph < LIMIT for at, ph in rows if begin - DAY_MS <= at < begin):
        return None
    return next((at for at, ph in rows if begin <= at < begin + CROSSES_MS and ph < LIMIT), None)


def _both(one: Case, stand: Stand, data: Series) -> tuple[Record, Record]:
    """What the probe that failed raises, and the one that never did, from one memory on."""
    pipe = stand.pipeline()
    fold(pipe, stand, data, 0, one.first)
    memory = json.dumps(pipe.save())
    course = stand.course(20.0)
    air = (lambda at: course.forcing(at).air_c) if one.fault.thermometer == "in air" else None
    fall = Fall(one.fault.make(Random(one.seed)), one.first, one.last, air)
    records = []
    for failing in (fall, None):
        pipe = stand.pipeline()
        pipe.restore(json.loads(memory))
        records.append(fold(pipe, stand, data, one.first, len(data.at), failing))
    return records[0], records[1]


def _event(name: str, words: str, stand: Stand, data: Series, record: Record, begin: int, crossed: int) -> Event:
    """How the acid was told of. An alarm of the pond that stands when it begins has woken the keeper before."""
    late_ms = LATE_MS + 2 * stand.interval_ms
    stands = any(_stands(record, alarm, begin) for _, alarm, _ in record.wakes(0, begin, "high"))
    warned = begin if stands else next((at for at, _, _ in record.wakes(begin, data.at[-1] + 1, "high")), None)
    plain = next((at for at in record.plain[LIMIT] if at >= begin), None)
    named = [at for at, alarm, _, _ in record.raised if alarm in PROBE_ALARMS and begin <= at < crossed + late_ms]
    named += [begin for alarm in PROBE_ALARMS if _stands(record, alarm, begin)]
    return Event(name, words, crossed, warned, plain, min(named, default=None), late_ms)


def _stands(record: Record, alarm: str, at: int) -> bool:
    """Whether this alarm of the pH probe has been raised and has not gone away at `at` [ms]."""
    raised = sum(when < at and (what, probe) == (alarm, "ph") for when, what, probe, _ in record.raised)
    return raised > sum(when < at and (what, probe) == (alarm, "ph") for when, what, probe in record.ended)
