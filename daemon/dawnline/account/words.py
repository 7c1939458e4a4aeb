"""The account in words and as an object for machines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, tzinfo
from typing import Any, Final, NamedTuple

from dawnline.account.account import EIGHT_OF_TEN, Account, Days
from dawnline.account.lines import ITEMS, Item
from dawnline.account.terms import shell_g_day
from dawnline.duration import iso
from dawnline.water.units import dkh_from_meq_l

OLD_TEST_DAYS: Final = 21
APART_DAYS: Final = 3  # between likeliest days, where the ranges overlap; common sense, no source


class LineDays(NamedTuple):
    """What the line through the dawn lows said last: days from the account's day on, and its trend."""

    days: Days
    trend: str


def line_days(body: Mapping[str, Any], today: date) -> LineDays:
    """Out of the body of a buffer forecast.

    >>> line_days({"reaches_low_on": "2026-06-12", "trend": "falling"}, date(2026, 6, 8)).days.likely
    4
    """

    def until(key: str) -> int | None:
        on = body.get(key)
        return None if on is None else max((date.fromisoformat(on) - today).days, 0)

    return LineDays(
        Days(until("earliest"), until("reaches_low_on"), until("latest")), str(body.get("trend", "unclear"))
    )


def lines(account: Account, line: LineDays | None, zone: tzinfo, litres: float) -> Iterator[str]:
    """The account, line by line."""
    if account.why_not:
        yield f"no account: {account.why_not}"
        return
    now = account.points[-1]
    low, high = now.alkalinity - EIGHT_OF_TEN * now.sd, now.alkalinity + EIGHT_OF_TEN * now.sd
    yield (
        f"KH about {_dkh(now.alkalinity)} dKH ({now.alkalinity:.2f} meq/L), eight times in ten between "
        f"{_dkh(max(low, 0.0))} and {_dkh(high)}"
    )
    yield f"from {account.tests} test{'s' if account.tests != 1 else ''} of KH{_last(account, zone)}"
    number = max(1, round(account.week_days))
    yield from ("", f"where it went in the last {'day' if number == 1 else f'{number} days'}, in dKH:")
    for item in ITEMS:
        if account.week[item] or item in ("feed", "shell and the rest"):
            yield f"  {item:<20} {_signed(account.week[item])}{_beside(account, item)}"
    yield f"  {'in all':<20} {_signed(sum(account.week.values()))}"
    yield from ("", *_rates(account, litres))
    yield f"days until the dawn low passes its limit, by the account: {_range(account.days)}"
    if line is not None:
        yield f"                        by the line through the dawn lows: {_range(line.days)} ({line.trend})"
        words = disagreement(account, line)
        yield from (() if words is None else ("", words))


def headline(account: Account) -> str:
    """The account in half a sentence; "" where there is none."""
    if account.why_not:
        return ""
    verb = "costs" if account.a_day < 0.0 else "gains"
    left = "" if account.days.likely is None else f"; {_range(account.days)} days are left"
    return f"KH is about {_dkh(account.points[-1].alkalinity)} dKH and a day {verb} {_dkh(abs(account.a_day))}{left}"


def _last(account: Account, zone: tzinfo) -> str:
    if account.last_test is None:
        return ""
    on = datetime.fromtimestamp(account.last_test / 1000, zone)
    ago = (account.at - account.last_test) / 86_400_000
    old = f": {ago:.0f} days ago, test again" if ago > OLD_TEST_DAYS else ""
    return f", the last on {on:%Y-%m-%d}{old}"


def _beside(account: Account, item: Item) -> str:
    if item == "feed":
        if account.fed is None:
            return "   none is logged: what it takes is in the next line"
        protein = account.fed.protein_percent
        named = "35 % protein presumed" if protein is None else f"{protein:g} % protein"
        return f"   {account.fed.grams_a_day:.4g} g a day as nitrified, {named}"
    if item == "shell and the rest":
        return f"   learned from tests; of it algae between {_signed(account.algae[0])} and {_signed(account.algae[1])}"
    return f"   {account.rain_mm:.3g} mm" if item == "rain" else ""


def _rates(account: Account, litres: float) -> Iterator[str]:
    spread = EIGHT_OF_TEN * account.a_day_sd
    verb = "costs" if account.a_day < 0.0 else "gains"
    first, last = sorted((abs(account.a_day), abs(account.a_day) + spread)), abs(account.a_day) - spread
    yield f"a day {verb} {_dkh(first[0])} dKH ({_dkh(max(last, 0.0))} to {_dkh(first[1])})"
    gain, sd = account.shell
    if gain - EIGHT_OF_TEN * sd > 0.0:
        yield (
            f"shell and the rest give about {_dkh(gain)} dKH a day: as much as {shell_g_day(gain, litres):.0f} g of "
            "calcium carbonate dissolved"
        )


def disagreement(account: Account, line: LineDays) -> str | None:
    """Where account and line disagree, and what that may mean; None where they do not, or one of them says nothing."""
    ours, theirs = account.days, line.days
    if line.trend == "falling" and account.a_day > EIGHT_OF_TEN * account.a_day_sd:
        return f"they disagree: the dawn lows fall, while by the tests of KH the buffer grows. {_LOWER}"
    if ours.likely is None or theirs.likely is None:
        return None
    apart = theirs.likely - ours.likely
    overlap = (theirs.latest is None or ours.earliest is None or theirs.latest >= ours.earliest) and (
        ours.latest is None or theirs.earliest is None or ours.latest >= theirs.earliest
    )
    if abs(apart) <= APART_DAYS or (overlap and abs(apart) <= max(ours.likely, theirs.likely) / 2):
        return None
    if apart < 0:
        return f"they disagree: the line is {-apart} days sooner. {_LOWER}"
    return f"they disagree: the line is {apart} days later. {_HIGHER}"


_LOWER: Final = (
    "More CO2 stays at night than did (less air, more fish or decay), or more is used than is logged (rain off a roof, "
    "more feed), or the probe reads lower than it did: check it in a buffer solution, and test KH."
)
_HIGHER: Final = (
    "More air moves the water, or shell gives more than the tests have shown yet, or less is fed than is logged, or "
    "the probe reads higher than it did: check it in a buffer solution, and test KH."
)


def _range(days: Days) -> str:
    if days.earliest is None:
        return "more than can be said"
    bounds = f"{days.earliest} or more" if days.latest is None else f"{days.earliest} to {days.latest}"
    return bounds if days.likely is None else f"{days.likely} ({bounds})"


def _dkh(meq_l: float) -> str:
    return f"{dkh_from_meq_l(meq_l):.2f}"


def _signed(meq_l: float) -> str:
    return f"{dkh_from_meq_l(meq_l):+.2f}"


def as_json(account: Account, line: LineDays | None, zone: tzinfo) -> dict[str, Any]:
    """The account as an object for machines; amounts in meq/L, what is gained positive."""
    head: dict[str, Any] = {"version": 1, "time": iso(account.at, zone)}
    if account.why_not:
        return {**head, "why_not": account.why_not}
    now = account.points[-1]
    return {
        **head,
        "alkalinity_meq_l": round(now.alkalinity, 4),
        "sd_meq_l": round(now.sd, 4),
        "kh_dkh": round(dkh_from_meq_l(now.alkalinity), 3),
        "tests": account.tests,
        "last_test": None if account.last_test is None else iso(account.last_test, zone),
        "week_days": round(account.week_days, 2),
        "week_meq_l": {item: round(account.week[item], 4) for item in ITEMS},
        "rain_mm": round(account.rain_mm, 2),
        "algae_meq_l": [round(each, 4) for each in account.algae],
        "a_day_meq_l": round(account.a_day, 5),
        "a_day_sd_meq_l": round(account.a_day_sd, 5),
        "shell_a_day_meq_l": round(account.shell[0], 5),
        "shell_a_day_sd_meq_l": round(account.shell[1], 5),
        "floor_meq_l": round(account.floor, 4),
        "days": account.days._asdict(),
        "line": None if line is None else {**line.days._asdict(), "trend": line.trend},
        "disagree": None if line is None else disagreement(account, line),
        "points": [[iso(each.at, zone), round(each.alkalinity, 4), round(each.sd, 4)] for each in account.points],
    }
