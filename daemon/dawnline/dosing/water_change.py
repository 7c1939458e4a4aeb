"""What a part water change does to KH, pH, temperature and ammonia, and how much of one is safe."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from dawnline.dosing.plan import DAILY_PH, DEFER, Plan, Refusal, Step, follow, refuse, volume_refusal
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.typed.measures import TEMPERATURE, VOLUME
from dawnline.typed.shown import shown
from dawnline.water.ammonia import HARMFUL_FROM, unionised_mg_l
from dawnline.water.doses import Water, aired, mixed, water_of
from dawnline.water.units import dkh_from_meq_l

KIND: Final = "water-change"
# Common practice, no source.
MOST_SHARE: Final = 0.3
MOST_WARMING_C: Final = 2.0
MOST_POISON: Final = 1.5  # times as much un-ionised ammonia as before; less than that the change is worth
CAUTIONS: Final = (
    "Tap water: take out chlorine or chloramine with a product made for it, for all the new water, as its label says.",
    "Let it in slowly, over an hour or more, where the water moves; the air runs. Mind that the pump keeps its water.",
    "Log it with its share and the KH of the new water: the forecast reckons with it.",
)


@dataclass(frozen=True, slots=True)
class Source:
    """The new water: KH in meq/L, pH, degC, total ammonia in mg/L as N (chloramine leaves some)."""

    kh: Fact | None = None
    ph: Fact | None = None
    celsius: Fact | None = None
    tan: Fact | None = None

    def water(self, pond: PondWater) -> Water:
        """It as water; as warm as the pond where nobody said, in balance with the air where its pH is not known."""
        assert self.kh is not None
        celsius = pond.warmth if self.celsius is None else self.celsius.value
        return water_of(self.kh.value, None if self.ph is None else self.ph.value, celsius)

    def used(self) -> tuple[str, ...]:
        """What is known of it, in words."""
        rows = [] if self.kh is None else [f"new water: KH {dkh_from_meq_l(self.kh.value):.2f} dKH ({self.kh.origin})"]
        rows.append("new water: pH not known" if self.ph is None else f"new water: pH {self.ph.value:.2f}")
        same = "new water: taken as warm as the pond"
        rows.append(same if self.celsius is None else f"new water: {self.celsius.value:.1f} degC")
        return (*rows, *(() if self.tan is None else (f"new water: {self.tan.value:.2g} mg/L total ammonia as N",)))


def water_change(pond: PondWater, share: float, source: Source) -> Plan:
    """What replacing this share of the pond (0 to 1) does; refused where it moves the water too far at once.

    Raises ValueError where a value lies outside what the chemistry holds for.
    """
    found = [each for each in (volume_refusal(pond), _share(share)) if each is not None]
    if pond.kh is None:
        found.append(Refusal("the pond's KH is not known", "test KH by hand and log it, or give --kh"))
    if source.kh is None:
        found.append(Refusal("the KH of the new water is not known", "test it as you test the pond; give --source-kh"))
    if found or pond.litres is None:
        return replace(refuse(KIND, pond, *found), used=(*pond.used(), *source.used()))
    pond.checked()
    used = (*pond.used(), *source.used())
    why = _objections(pond, share, source)
    if why:
        safe = _largest(lambda tried: not _objections(pond, tried, source), min(share, MOST_SHARE))
        instead = (
            f"{safe:.0%} ({shown(safe * pond.litres.value, VOLUME, pond.units)}) at a time, a day apart"
            if safe >= 0.01
            else _none(source)
        )
        return replace(refuse(KIND, pond, *(Refusal(each, instead) for each in why), cautions=CAUTIONS), used=used)
    step = _step(pond, share, source)
    after = mixed(pond.water, source.water(pond), share)
    figures = (("temperature_c", after.temperature_c), ("tan_mg_l", _tan(pond, share, source)))
    return Plan(KIND, used, (step,), (), _advice(pond, step, after, share, source), (*CAUTIONS, *DEFER), figures)


def _share(share: float) -> Refusal | None:
    if 0.0 < share <= 1.0:
        return None
    return Refusal(f"a share of {share:g} is none: it lies between 0 and 1", "15 % is 15% or 0.15")


def _step(pond: PondWater, share: float, source: Source) -> Step:
    assert pond.litres is not None
    after = mixed(pond.water, source.water(pond), share)
    tan = _tan(pond, share, source)
    now = replace(pond, tan=None if tan is None else Fact(tan, ""))
    return follow(now, after, 1, share * pond.litres.value)


def _tan(pond: PondWater, share: float, source: Source) -> float | None:
    if pond.tan is None:
        return None
    return (1.0 - share) * pond.tan.value + share * (0.0 if source.tan is None else source.tan.value)


def _objections(pond: PondWater, share: float, source: Source) -> list[str]:
    """Why so large a change would move the water too far."""
    why = []
    before, after = pond.water, mixed(pond.water, source.water(pond), share)
    if share > MOST_SHARE:
        why.append(f"{share:.0%} at once is more than {MOST_SHARE:.0%}")
    moved = aired(after).ph - aired(before).ph
    if abs(moved) > DAILY_PH:
        verb = "rise" if moved > 0.0 else "fall"
        why.append(f"the pH in balance with the air would {verb} by {abs(moved):.2f}; {DAILY_PH:g} a day is safe")
    warmer = after.temperature_c - before.temperature_c
    if abs(warmer) > MOST_WARMING_C:
        way = "warmer" if warmer > 0.0 else "colder"
        why.append(f"the water would be {abs(warmer):.1f} degC {way}; {MOST_WARMING_C:g} at once is safe")
    now, then = _present_poison(pond), _step(pond, share, source).unionised
    if then is not None and now is not None and then >= HARMFUL_FROM and then > MOST_POISON * now:
        why.append(f"un-ionised ammonia would rise from {now:.3f} to {then:.3f} mg/L as N: the new water lifts the pH")
    return why


def _present_poison(pond: PondWater) -> float | None:
    if pond.tan is None:
        return None
    step = follow(pond, pond.water, 1, 0.0)
    return unionised_mg_l(pond.tan.value, max(step.at_once, step.in_balance, step.dusk_high), pond.warmth)


def _largest(holds: Callable[[float], bool], most: float) -> float:
    """The largest share, by hundredths, that holds."""
    return next((n / 100.0 for n in range(int(most * 100.0 + 1e-9), 0, -1) if holds(n / 100.0)), 0.0)


def _none(source: Source) -> str:
    warmth = " Let it take on the pond's warmth first." if source.celsius is not None else ""
    return f"none of this water as it is: use water of more like KH and pH, or mix it with rain water.{warmth}"


def _advice(pond: PondWater, step: Step, after: Water, share: float, source: Source) -> tuple[str, ...]:
    assert pond.kh is not None
    before, then = dkh_from_meq_l(pond.kh.value), dkh_from_meq_l(step.kh_meq_l)
    amount, celsius = shown(step.amount, VOLUME, pond.units), shown(after.temperature_c, TEMPERATURE, pond.units, 1)
    rows = [f"{share:.0%} is {amount}. KH {before:.2f} to {then:.2f} dKH; the water {celsius}."]
    if pond.tan is not None and step.unionised is not None:
        now = _present_poison(pond) or 0.0
        total = _tan(pond, share, source) or 0.0
        if step.unionised > max(now, HARMFUL_FROM):
            rows.append("The new water lifts the pH, and with it the share of ammonia that is poisonous: go slowly.")
        rows.append(
            f"Total ammonia {pond.tan.value:.2g} to {total:.2g} mg/L as N; un-ionised at its worst "
            f"{now:.3f} to {step.unionised:.3f}."
        )
    if then < before - 0.01:
        rows.append("The new water has less KH than the pond: it thins the buffer. Where KH is low, dose after it.")
    return tuple(rows)
