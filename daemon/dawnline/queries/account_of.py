"""The buffer's account: for `logbook account`, `dose shell` and the review."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from statistics import median
from typing import Final, NamedTuple

from dawnline.account import words
from dawnline.account.account import DAYS_BACK, Account, Climate, account
from dawnline.duration import DAY_MS, local_date, local_ms
from dawnline.event import Act, Day
from dawnline.logbook.acts import KINDS
from dawnline.logbook.ledger import standing
from dawnline.queries.doubts_of import doubts_of, on_day
from dawnline.queries.rain_of import rain_of
from dawnline.settings import Settings
from dawnline.store.reader import Reader

FEEDING: Final = ("feed", "feeding")  # logged once, in force until something else is
USUAL_NIGHTS: Final = 3  # whose dawn lows count together: one in which the air stopped says nothing of the buffer
FRESH_LINE_MS: Final = 2 * DAY_MS  # how old a forecast of the line may be


class Found(NamedTuple):
    """The account, and what the line through the dawn lows said last."""

    account: Account
    line: words.LineDays | None


def account_of(reader: Reader, settings: Settings, at: int, done: Sequence[Act] | None = None) -> Found:
    """The account at `at` [ms], from the acts as they stand, where they have been read. It rests on no day on which the
    probe was doubted. Raises StoreError as the reader does.
    """
    zone, since = settings.pond.zone, at - DAYS_BACK * DAY_MS
    today = local_date(at, zone)
    first = today - timedelta(days=DAYS_BACK)
    doubts = doubts_of(reader, local_ms(first, zone), at + 1)
    days = [day for day in reader.days(first.isoformat(), today.isoformat()) if not on_day(day, doubts, zone)]
    came = standing(reader.accepted_acts(at, list(KINDS))) if done is None else done
    logged = [act for act in came if act.at <= at and (act.at >= since or act.kind in FEEDING)]
    lows = [day.dawn_low for day in days if day.dawn_low is not None]
    rain = rain_of(reader, settings, logged, since, at + 1)
    low, ph_low = median(lows[-USUAL_NIGHTS:]) if lows else None, settings.limits.ph_low
    found = account(
        logged, _climate(reader, settings, days, since, at), settings.pond, at, rain=rain, dawn_low=low, ph_low=ph_low
    )
    last = reader.last_forecast("buffer", at + 1)
    fresh = last is not None and at - last.at <= FRESH_LINE_MS
    return Found(found, words.line_days(last.body, today) if last is not None and fresh else None)


def _climate(reader: Reader, settings: Settings, days: Sequence[Day], start: int, end: int) -> dict[int, Climate]:
    """By the number of the day (UTC) from `start` to `end` [ms]: warmth of the first thermometer, and mean pH."""
    first, after = start // DAY_MS * DAY_MS, end // DAY_MS * DAY_MS + DAY_MS
    warm: dict[int, float] = {}
    for thermometer in [probe.name for probe in settings.probes if probe.quantity == "temperature"][:1]:
        rolled = reader.rollups(thermometer, first, after, DAY_MS)
        warm = {each.at // DAY_MS: each.total / each.number for each in rolled if each.number}
    zone, known = settings.pond.zone, [day for day in days if day.mean is not None]
    ph = {local_ms(date.fromisoformat(day.date), zone) // DAY_MS + 1: day.mean for day in known}
    return {n: Climate(warm.get(n), ph.get(n)) for n in {*warm, *ph}}
