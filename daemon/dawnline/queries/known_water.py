"""What a plan knows before anything is given: from configuration and store, where there is one."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from dawnline.dosing.asked import Known
from dawnline.dosing.from_record import CRASH_MS, NEW_MS, Newest, Record, last_acid, pond_water, reckoned_on
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.duration import DAY_MS, HOUR_MS, local_date, local_ms
from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.layer import Layer
from dawnline.logbook.acts import AMENDING
from dawnline.logbook.ledger import standing
from dawnline.outlook.sun import Sun
from dawnline.queries.account_of import account_of
from dawnline.queries.course_of import care_of
from dawnline.queries.doubts_of import doubts_of, on_day
from dawnline.queries.ph_readings import ph_readings
from dawnline.settings import Settings
from dawnline.store.reader import Reader

TESTS_BACK: Final = ("hand-test", "water-change", "dose", *AMENDING)
MORNING_MS: Final = 4 * HOUR_MS  # from sunrise
DUSK_MS: Final = 4 * HOUR_MS  # before sunset


def known_water(settings: Settings, at: int) -> Known:
    """All that is known at `at` [ms]. Raises StoreError as the reader does."""
    pond = settings.pond
    part = part_of_day(Sun(pond.latitude, pond.longitude, pond.zone), at)
    if not settings.store.path.exists():
        litres = None if pond.volume_litres is None else Fact(pond.volume_litres, "the configuration")
        return Known(PondWater(litres=litres, units=pond.units), settings.limits, part)
    with Reader.open(settings.store.path) as reader:
        record = _record(reader, settings, at)
        account = account_of(reader, settings, at).account
    return Known(reckoned_on(pond_water(record), account), settings.limits, part, last_acid(record.done, at), account)


def part_of_day(sun: Sun, at: int) -> str:
    """Morning is the four hours from sunrise, dusk the four hours before sunset and two after."""
    day = sun.day_at(at)
    if at < day.sunrise or at >= day.sunset + DUSK_MS // 2:
        return "night"
    if at < day.sunrise + MORNING_MS:
        return "morning"
    return "dusk" if at >= day.sunset - DUSK_MS else "day"


def _record(reader: Reader, settings: Settings, at: int) -> Record:
    zone = settings.pond.zone
    today = local_date(at, zone)
    done = [act for act in standing(reader.accepted_acts(at, TESTS_BACK)) if act.at <= at]
    days = reader.days((today - timedelta(days=4)).isoformat(), today.isoformat())
    told = [each for each in reader.transitions(at - CRASH_MS - DAY_MS, at + 1) if each.alarm == "ph-crash"]
    doubts = doubts_of(reader, local_ms(today - timedelta(days=4), zone), at + 1)
    why = {each.probe: each.text for each in doubts if each.ended_at is None}
    latest: dict[str, Newest] = {}
    for probe in settings.probes:
        if probe.quantity in IDEAL and ("ph" not in latest or latest["ph"].doubt):
            layer = Layer(probe.name, probe.quantity, care_of(reader, at))
            newest = list(ph_readings(reader, probe, layer, at - NEW_MS, at + 1))
        elif probe.quantity == "temperature" and ("temperature" not in latest or latest["temperature"].doubt):
            newest = list(reader.good(probe.name, at - NEW_MS, at + 1))
        else:
            continue
        if newest:
            kind = "ph" if probe.quantity in IDEAL else "temperature"
            found = Newest(*newest[-1], doubt=why.get(probe.name, ""))
            latest[kind] = found if not found.doubt else latest.get(kind, found)
    doubted = frozenset((day.date, day.probe) for day in days if on_day(day, doubts, zone))
    return Record(settings.pond, settings.limits, done, days, told, latest, at, doubted)
