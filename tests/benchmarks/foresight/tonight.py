"""Tonight's dawn low, foretold at sunset and one, three and five hours after, beside three simple rules."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean
from typing import Any, NamedTuple

from dawns import GRACE_MS, LATE_HOURS, Blocks, rules
from figures import mean, quantile, share, table
from sunlight import night_before
from watching import WATCH
from world import HOUR_MS, Place

from dawnline.event import Forecast


class Guess(NamedTuple):
    """One night at one hour: what came, what each rule said, what we said (low, p10, p90) or None."""

    hours: int
    low: float
    rules: dict[str, float]
    ours: tuple[float, float, float] | None


def guesses(blocks: Blocks, place: Place, forecasts: Sequence[Forecast]) -> list[Guess]:
    """What was said of each night of a series."""
    of_night: dict[str, list[Forecast]] = {}
    for forecast in forecasts:
        if forecast.about == "tonight":
            of_night.setdefault(str(forecast.body["night"]), []).append(forecast)
    found = []
    for (on, hours), (low, said) in rules(blocks, place).items():
        at = night_before(on, place).sunset + hours * HOUR_MS + GRACE_MS
        found.append(Guess(hours, low, said, _ours(of_night.get(on.isoformat(), []), at)))
    return found


def _ours(forecasts: Sequence[Forecast], at: int) -> tuple[float, float, float] | None:
    """The last forecast up to a time."""
    known = [f for f in forecasts if f.at <= at and f.body.get("low") is not None]
    if not known:
        return None
    body = known[-1].body
    return body["low"], body["low_p10"], body["low_p90"]


def report(found: list[dict[str, Any]]) -> str:
    """The table over all nights of the calm ponds."""
    return section([guess for pond in found for guess in pond["guesses"]])


def section(every: Sequence[Guess]) -> str:
    """Sizes of errors, on nights for which a forecast and all rules have something; where none has, the rules alone."""
    heads = (
        "after sunset",
        "who",
        "nights",
        "mean error",
        "90th percentile",
        "of best rule",
        "below p10",
        "above p90",
    )
    rows: list[tuple[str, ...]] = []
    for hours in LATE_HOURS:
        there = [guess for guess in every if guess.hours == hours]
        heard = [guess for guess in there if guess.ours is not None]
        some = heard or there
        errors = {who: [abs(g.rules[who] - g.low) for g in some] for who in (some[0].rules if some else ())}
        best = min((fmean(values) for values in errors.values()), default=0.0)
        ours = [(g.ours, g.low) for g in heard if g.ours is not None]
        said = [abs(o[0] - low) for o, low in ours]
        below, above = sum(low < o[1] for o, low in ours), sum(low > o[2] for o, low in ours)
        rows += [_row(hours, who, values, best, "", "") for who, values in errors.items()]
        counts = f"{len(heard)} of {len(there)}"
        rows.append(_row(hours, WATCH, said, best, share(below, len(ours)), share(above, len(ours)), counts))
    return table(heads, rows)


def _row(
    hours: int, who: str, errors: Sequence[float], best: float, below: str, above: str, counts: str = ""
) -> tuple[str, ...]:
    ratio = f"{fmean(errors) / best:.2f}" if errors and best > 0.0 else "-"
    p90 = f"{quantile(errors, 0.9):.3f}" if errors else "-"
    return f"+{hours} h", who, counts or str(len(errors)), mean(errors), p90, ratio, below, above


def ratio_at(every: Sequence[Guess], hours: int) -> float | None:
    """Mean error over that of the best simple rule, at an hour after sunset; None where nothing was said."""
    heard = [g for g in every if g.hours == hours and g.ours is not None]
    if not heard:
        return None
    best = min(fmean(abs(g.rules[who] - g.low) for g in heard) for who in heard[0].rules)
    return fmean(abs(g.ours[0] - g.low) for g in heard if g.ours is not None) / best
