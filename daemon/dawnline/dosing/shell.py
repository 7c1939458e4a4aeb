"""What the shell in the filter has been delivering: learned from tests of KH, not promised from its mass."""

from __future__ import annotations

from typing import Final, NamedTuple

from dawnline.account.account import EIGHT_OF_TEN, Account
from dawnline.account.terms import feed_meq_l_day, shell_g_day
from dawnline.dosing.plan import DEFER, Plan, Refusal, refuse, volume_refusal
from dawnline.dosing.pond_water import PondWater
from dawnline.water.calcite import calcite_saturation_index
from dawnline.water.units import dkh_from_meq_l

KIND: Final = "shell"
CAUTIONS: Final = (
    "Shell cannot be dosed: it dissolves as far as the water lets it, faster in acid water, and slows under slime. It "
    "does not stop a crash that has begun. Rinse it in pond water, swap part of it, never all at once.",
)


def shell(pond: PondWater, account: Account) -> Plan:
    """What the account has learned of the shell; refused where it knows too little.

    Raises ValueError where a value of the pond's lies outside what the chemistry holds for.
    """
    found = volume_refusal(pond)
    if found is not None or pond.litres is None:
        return refuse(KIND, pond, *(() if found is None else (found,)))
    pond.checked()
    if account.why_not or account.tests < 2:
        why = account.why_not or "one test of KH says nothing of what was given since"
        return refuse(KIND, pond, Refusal(why, "log a test of KH a week, and what you feed: then it can be learned"))
    gain, sd = account.shell
    spread, litres = EIGHT_OF_TEN * sd, pond.litres.value
    low, high = gain - spread, gain + spread
    rows = [
        f"Beside what feed takes the pond has been gaining {_dkh(gain)} dKH a day, eight times in ten {_dkh(low)} to "
        f"{_dkh(high)}: shell, and whatever else is not logged."
    ]
    if account.fed is None:
        rows.append("No feed is logged, so this is what shell gives less what feed takes.")
    if low > 0.0:
        rows.append(f"As shell that is {shell_g_day(gain, litres):.0f} g of calcium carbonate dissolved a day.")
    elif high < 0.0:
        rows.append(
            "That is a loss: no shell dissolves to speak of, or rain, roof water or decay take more than it gives."
        )
    else:
        rows.append("Whether shell gives anything cannot be told yet: more tests narrow it.")
    rows.append(f"In all a day {'costs' if account.a_day < 0 else 'gains'} {_dkh(abs(account.a_day))} dKH.")
    rows += _saturation(pond)
    figures: tuple[tuple[str, float | str | None], ...] = (
        ("gain_meq_l_day", gain),
        ("gain_sd_meq_l_day", sd),
        ("caco3_g_day", shell_g_day(gain, litres)),
        ("feed_meq_l_day", account.feed_a_day),
    )
    return Plan(KIND, pond.used(), (), (), tuple(rows), (*CAUTIONS, *DEFER), figures)


class Between(NamedTuple):
    """Two tests of KH `days` apart, each as the bounds of its alkalinity [meq/L], and what was fed between them."""

    then: tuple[float, float]
    now: tuple[float, float]
    days: float
    feed_g_day: float
    protein_percent: float | None


def between_two_tests(pond: PondWater, tests: Between) -> Plan:
    """What shell gave between two tests. Raises ValueError as `shell`."""
    days = tests.days
    found = volume_refusal(pond)
    if found is not None or pond.litres is None:
        return refuse(KIND, pond, *(() if found is None else (found,)))
    if not 1.0 <= days <= 365.0:
        return refuse(KIND, pond, Refusal(f"{days:g} days between two tests are no basis", "give 7 to 60 days"))
    ph = 7.5 if pond.ph is None else pond.ph.value
    used = feed_meq_l_day(tests.feed_g_day, tests.protein_percent, pond.litres.value, pond.warmth, ph)
    low = (tests.now[0] - tests.then[1]) / days + used
    high = (tests.now[1] - tests.then[0]) / days + used
    grams = [max(shell_g_day(each, pond.litres.value), 0.0) for each in (low, high)]
    rows = (
        f"Feed takes {_dkh(used)} dKH a day if all its ammonia is nitrified.",
        f"So shell and the rest gave {_dkh(low)} to {_dkh(high)} dKH a day, as the drops of the kit allow: "
        f"{grams[0]:.0f} to {grams[1]:.0f} g of calcium carbonate.",
        *_saturation(pond),
    )
    figures = (("gain_low_meq_l_day", low), ("gain_high_meq_l_day", high), ("feed_meq_l_day", used))
    return Plan(KIND, pond.used(), (), (), rows, (*CAUTIONS, *DEFER), figures)


def _saturation(pond: PondWater) -> list[str]:
    if pond.kh is None or pond.ph is None or pond.kh.value <= 0.0:
        return []
    calcium = None if pond.calcium is None else pond.calcium.value
    index = calcite_saturation_index(pond.kh.value, pond.ph.value, pond.warmth, calcium)
    if index >= 0.0:
        return [
            f"At this pH the water is saturated with calcite (index {index:+.1f}): shell dissolves at night at best."
        ]
    return [f"At this pH shell can dissolve (saturation index {index:+.1f}; below 0 it does)."]


def _dkh(meq_l: float) -> str:
    return f"{dkh_from_meq_l(meq_l):+.3f}" if meq_l < 0 else f"{dkh_from_meq_l(meq_l):.3f}"
