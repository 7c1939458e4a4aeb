"""Reads out of the store what a review is made of, and has it made: for `review`, and for whoever else looks back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from dawnline.account.words import headline
from dawnline.duration import DAY_MS, local_date, local_ms
from dawnline.electrode.layer import Layer
from dawnline.errors import SettingsError
from dawnline.event import Act
from dawnline.logbook.ledger import standing
from dawnline.queries.account_of import account_of
from dawnline.queries.course_of import course_of, layers_of
from dawnline.queries.rain_of import rain_of
from dawnline.queries.running_day import with_the_running_day
from dawnline.queries.standing_at import MOST_TRANSITIONS, standing_at
from dawnline.review.buffer import DAYS_BACK, buffer_text
from dawnline.review.stretch import Series, Stretch, in_ph
from dawnline.review.week import Week, look_back
from dawnline.rollup import STEP_MS, Rollup
from dawnline.settings import Settings
from dawnline.store.reader import Reader

DAYS_AT_ONCE: Final = 31
FINE_DAYS: Final = 2.1  # so few days are drawn finer than by the quarter of an hour; one may have 25 hours
A_DAY: Final = timedelta(days=1)
A_YEAR: Final = timedelta(days=364)  # whole weeks: a Monday lies beside a Monday


def silent(_done: float) -> None:
    """Nobody waits for it."""


@dataclass(frozen=True, slots=True)
class Span:
    """First and last day of a review, and the newest reading of the record [ms]."""

    first: date
    last: date
    newest: int


def span_of(reader: Reader, settings: Settings, first: date | None = None, last: date | None = None) -> Span | None:
    """The days to look at: seven up to the last of the record where none are named; None without a record.

    Raises SettingsError where the first lies after the last.
    """
    newest = max((end for _, end in reader.span().values()), default=None)
    today = None if newest is None else local_date(newest, settings.pond.zone)
    last = last or today
    first = first or (last and last - timedelta(days=6))
    if first and last and first > last:
        raise SettingsError(f"--from {first} lies after --to {last}: expected the earlier day first")
    return None if newest is None or first is None or last is None else Span(first, last, newest)


def week_of(reader: Reader, settings: Settings, span: Span, progress: Callable[[float], None] = silent) -> Week:
    """The days of `span` with those before them and those of the year before; `progress` hears the share done."""
    number = (span.last - span.first).days + 1
    done = standing(reader.done())
    source = _Source(reader, settings, layers_of(reader, settings), done)

    def part(place: int) -> Callable[[float], None]:
        return lambda done: progress((place + done) / 3)

    return look_back(
        source.stretch(span.first, span.last, part(0), newest=span.newest),
        source.stretch(span.first - timedelta(days=number), span.first - timedelta(days=1), part(1)),
        source.stretch(span.first - A_YEAR, span.last - A_YEAR, part(2)),
        settings.pond,
        settings.limits,
        as_of=span.newest,
        buffer=_buffer(reader, settings, span.last, done) + _account(reader, settings, span, done),
        titles={name: kind.title for name, kind in settings.catalogue.items()},
    )


@dataclass(frozen=True, slots=True)
class _Source:
    """A store and what is needed to read its pH."""

    reader: Reader
    settings: Settings
    layers: Mapping[str, Layer]
    done: Sequence[Act]

    def stretch(
        self, first: date, last: date, progress: Callable[[float], None], *, newest: int | None = None
    ) -> Stretch:
        """These days; with the running one where `newest` [ms] is given.

        Days without it only stand beside others: what needs a picture is left out (pH by the quarter, forecasts).
        """
        reader, zone = self.reader, self.settings.pond.zone
        start, end = local_ms(first, zone), local_ms(last + A_DAY, zone)
        days = reader.days(str(first), str(last))
        shown = newest is not None
        if newest is not None:
            today = local_date(newest, zone)
            if first <= today <= last:
                days = with_the_running_day(reader, self.settings, days, newest, today)
        return Stretch(
            first=first,
            last=last,
            start=start,
            end=end,
            days=days,
            series=self._series((start - start % STEP_MS, end + -end % STEP_MS), progress, shown=shown),
            forecasts=reader.forecasts("tonight", start - DAY_MS, end) if shown else (),
            mornings=reader.forecasts("buffer", start, end) if shown else (),
            standing=standing_at(reader, start) if shown else (),
            transitions=reader.transitions(start, end, MOST_TRANSITIONS),
            acts=[act for act in self.done if start <= act.at < end],
            rain=rain_of(reader, self.settings, self.done, start, end),
            layers=self.layers,
            raw_since=max((reader.raw_since(each.name) for each in self.settings.probes), default=0),
        )

    def _series(self, of: tuple[int, int], progress: Callable[[float], None], *, shown: bool) -> list[Series]:
        (start, end), probes = of, [each for each in self.settings.probes if shown or each.name not in self.layers]
        measured: dict[str, list[Rollup]] = {probe.name: [] for probe in probes}
        for begun in range(start, end, DAYS_AT_ONCE * DAY_MS):
            until = min(end, begun + DAYS_AT_ONCE * DAY_MS)
            for probe in probes:
                measured[probe.name] += self.reader.rollups(probe.name, begun, until)
            progress((until - start) / (end - start))
        found = []
        for probe in probes:
            rollups, layer = measured[probe.name], self.layers.get(probe.name)
            if layer is not None:
                rollups = in_ph(rollups, layer, measured.get(probe.temperature or "", ()))
            series = Series(probe.name, probe.quantity, rollups)
            if shown and end - start <= FINE_DAYS * DAY_MS:
                fine = course_of(self.reader, self.settings, probe.name, start, end)
                series = series._replace(fine=fine.rollups, fine_step=fine.step)
            found.append(series)
        return found


def _account(reader: Reader, settings: Settings, span: Span, done: Sequence[Act]) -> str:
    """Beside it, what the buffer's account came to at the end of the week; "" where there is none."""
    end = min(local_ms(span.last + A_DAY, settings.pond.zone) - 1, span.newest)
    said = headline(account_of(reader, settings, end, done).account)
    return f". By the account {said}" if said else ""


def _buffer(reader: Reader, settings: Settings, last: date, done: Sequence[Act]) -> str:
    """What the buffer line said on the last morning up to this day; worked out anew where the store has none."""
    zone = settings.pond.zone
    first = last - timedelta(days=DAYS_BACK)
    start, end = local_ms(first, zone), local_ms(last + A_DAY, zone)
    said = reader.last_forecast("buffer", end - 1)
    if said is not None and said.at >= start:
        morning = local_date(said.at, zone)
        return f"as of {morning}: {said.body['text']}"
    acts = [act for act in done if start <= act.at < end]
    rain = rain_of(reader, settings, done, start, end)
    return buffer_text(reader.days(str(first), str(last)), acts, settings.pond, settings.limits, rain)
