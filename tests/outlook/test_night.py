"""The night, its phases, carbon, rules and what is learned of them."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.duration import HOUR_MS
from dawnline.outlook.blend import Blend, weighted_median
from dawnline.outlook.carbon import carbon_of, ph_of, relaxing
from dawnline.outlook.departure import departure, going_on
from dawnline.outlook.night import PHASES, Night, night_of, value_at
from dawnline.outlook.night_rules import RULES, forecasts
from dawnline.outlook.spread import Spread
from dawnline.outlook.sun import Sun
from dawnline.outlook.trust import Trust
from dawnline.outlook.warmth import Warmth

ZONE = ZoneInfo("Europe/Berlin")
SUN = Sun(47.95, 8.21, ZONE)
NIGHT = Night(0, 3 * HOUR_MS, 8 * HOUR_MS, 12 * HOUR_MS, "2026-06-08")


@given(st.integers(-3 * HOUR_MS, 12 * HOUR_MS))
def test_a_phase_is_a_time(at: int) -> None:
    assert abs(NIGHT.time_of(NIGHT.phase(at)) - at) <= 1
    assert 0 <= NIGHT.phase(at) <= PHASES


@pytest.mark.parametrize(
    ("clock", "expected"),
    [("00:30", "2026-06-08"), ("09:00", "2026-06-08"), ("10:30", "2026-06-09"), ("23:00", "2026-06-09")],
)
def test_a_night_is_named_by_the_date_of_its_sunrise(clock: str, expected: str) -> None:
    at = round(datetime.fromisoformat(f"2026-06-08T{clock}:00+02:00").timestamp() * 1000)
    night = night_of(SUN, SUN.day(date(2026, 6, 8)), at)
    assert night.date == expected
    assert night.sunset < night.midnight < night.sunrise < night.end
    assert night.end - night.sunrise == 4 * HOUR_MS


@given(st.floats(4.5, 10.0))
def test_carbon_and_ph_are_each_other_s_inverse(ph: float) -> None:
    assert ph_of(carbon_of(ph)) == pytest.approx(ph, abs=1e-6)


def test_breathing_lowers_the_ph_and_exchange_sets_it_a_bound() -> None:
    lows = [going_on(6.9, 0.1, hours) for hours in (0.0, 2.0, 4.0, 8.0)]
    assert lows == sorted(lows, reverse=True)
    assert relaxing(0.5, 1e6) == pytest.approx(2.0)


def _gaining(dusk: float, rates: dict[int, float]) -> tuple[float, ...]:
    """The pH by phase of a night that gains carbon at `rates` a phase, each from its phase on."""
    carbon, out = carbon_of(dusk), []
    for phase in range(PHASES):
        out.append(ph_of(carbon))
        carbon += rates[max(begin for begin in rates if begin <= phase)]
    return tuple(out)


def test_a_night_is_strange_by_the_carbon_it_gains_not_by_how_bright_its_evening_was() -> None:
    earlier = [_gaining(7.8, {0: 0.02 + 0.001 * (n % 3)}) for n in range(6)]
    at = NIGHT.time_of(12.0)

    def of(
        tonight: tuple[float, ...], nights: list[tuple[float, ...]] = earlier, grain: float = 0.0
    ) -> tuple[float, float]:
        seen = [*tonight[:12], *[None] * (PHASES - 12)]
        found = departure(NIGHT, at, tonight[12], seen, nights, grain=grain)
        return found.scales, found.surplus

    calm, bright = of(_gaining(7.8, {0: 0.023})), of(_gaining(8.6, {0: 0.023}))
    assert 0.0 < calm[0] < 1.0
    assert bright == (pytest.approx(calm[0], abs=1e-6), pytest.approx(calm[1], abs=1e-6))
    strange = of(_gaining(7.8, {0: 0.021, 8: 0.06}))
    assert strange[0] > 3.0
    assert of(_gaining(7.8, {0: 0.021, 8: 0.06}), grain=0.2)[0] < 2.0  # one count of a coarse converter
    assert strange[1] == pytest.approx(0.038 * 16 / 8, rel=0.1)  # a phase of the dark is half an hour here
    assert of(_gaining(7.8, {0: 0.021, 8: 0.06, 11: 0.021}))[1] < 0.01  # a pulse that is over
    assert of(_gaining(7.8, {0: 0.021, 8: 0.06}), earlier[:2]) == (0.0, 0.0)


def test_where_every_night_is_alike_every_rule_says_so() -> None:
    said = forecasts(12.0, 7.4, [7.4] * 12, [7.0] * 12, [0.1] * 13)
    assert len(said) == len(RULES)
    assert all(forecast == pytest.approx(7.0, abs=1e-9) for forecast in said)


def test_nights_that_fell_alike_are_asked_and_without_a_fall_the_usual_drop_stands_in() -> None:
    """Nights that had fallen by 0.3 at this hour lost 0.2 more, the others 0.6: tonight has fallen by 0.3."""
    falls, lows = [0.3, 0.1] * 6, [7.2, 6.8] * 6
    said = dict(zip(RULES, forecasts(12.0, 7.4, [7.4] * 12, lows, [*falls, 0.3]), strict=True))
    assert said["alike"] == pytest.approx(7.2, abs=0.07)
    assert said["drop"] == pytest.approx(7.0, abs=0.01)
    unseen = dict(zip(RULES, forecasts(12.0, 7.4, [7.4] * 12, lows, [*falls, None]), strict=True))
    assert unseen["alike"] == unseen["drop"]


def test_last_night_s_low_is_kept_to_what_nights_still_lose_from_this_hour_but_for_a_rare_one() -> None:
    """Nights lost 0.3 to 0.5 from here, and one of them 1.4."""
    lows = [7.0 - 0.01 * night for night in range(21)]
    earlier = [low + 0.3 + 0.01 * night for night, low in enumerate(lows)]
    lows[7] -= 1.0

    def bounded(now: float) -> float:
        return dict(zip(RULES, forecasts(12.0, now, earlier, lows, [None] * 22), strict=True))["bounded"]

    assert bounded(7.2) == pytest.approx(lows[-1])
    assert bounded(6.9) == pytest.approx(6.57, abs=0.011)
    assert bounded(7.9) == pytest.approx(7.42, abs=0.021)


def test_a_rule_known_to_be_far_off_moves_the_blend_little() -> None:
    blend = Blend()
    said = [*[7.0] * (len(RULES) - 1), 3.0]
    for _ in range(2):
        blend.learn([*[0.05] * (len(RULES) - 1), 4.0])
    assert blend.of(said) == pytest.approx(7.0, abs=0.01)


@given(st.lists(st.tuples(st.floats(6.0, 9.0), st.floats(0.01, 1.0)), min_size=1, max_size=12))
def test_a_weighted_median_lies_among_the_values_whatever_their_order(pairs: list[tuple[float, float]]) -> None:
    values, weights = [v for v, _ in pairs], [w for _, w in pairs]
    found = weighted_median(values, weights)
    assert min(values) <= found <= max(values)
    assert weighted_median(values[::-1], weights[::-1]) == pytest.approx(found)


@pytest.mark.parametrize("effect", [-0.05, 0.05])
def test_warmer_water_s_effect_is_learned_whichever_way_it_goes(effect: float) -> None:
    warmth = Warmth()
    assert warmth.of(1.0) == 0.0
    for night in range(40):
        warmer = (-1.5, 0.5, 1.0)[night % 3]
        warmth.learn(effect * warmer, warmer)
    assert warmth.of(1.0) == pytest.approx(effect, abs=0.012)
    assert abs(warmth.of(40.0)) <= 2.0 * warmth.error


def test_a_pond_is_believed_until_its_departures_come_to_nothing() -> None:
    trust = Trust()
    trust.learn([(7.0, 6.4)], 6.3)
    assert trust.share() == 1.0
    for _ in range(4):
        trust.learn([(7.0, 6.4), (7.0, 6.6)], 7.0)
    assert trust.share() < 0.45
    before = trust.share()
    trust.learn([], 6.0)
    assert trust.share() == before


def test_the_blend_comes_to_follow_the_rule_that_is_right() -> None:
    blend, right = Blend(), RULES.index("drop")
    said = [7.0 if i == right else 7.3 for i in range(len(RULES))]
    before = blend.of(said)
    for _ in range(20):
        blend.learn([0.01 if i == right else 0.1 for i in range(len(RULES))])
    assert before > 7.2
    assert blend.of(said) == pytest.approx(7.0, abs=0.05)


def test_the_blend_changes_its_mind() -> None:
    blend = Blend()
    for good in (0, 1):
        for _ in range(40):
            blend.learn([0.01 if i == good else 0.1 for i in range(len(RULES))])
    said = [7.0 if i == 1 else 7.3 for i in range(len(RULES))]
    assert blend.of(said) < 7.1


def test_bounds_are_wide_at_first_and_one_sided_errors_make_one_sided_bounds() -> None:
    spread = Spread()
    first = sum(spread.bounds())
    for night in range(60):
        spread.learn([-0.05 if night % 3 == 0 else 0.005])
    below, above = spread.bounds()
    assert below > above
    assert below + above < first


EARLIER = [tuple(7.5 - 0.02 * phase + 0.005 * night for phase in range(PHASES)) for night in range(5)]


def test_a_night_like_the_others_departs_by_nothing() -> None:
    at = NIGHT.time_of(10)
    found = departure(NIGHT, at, value_at(EARLIER[2], 10) or 0.0, EARLIER[2], EARLIER)
    assert abs(found.scales) < 0.2


def test_a_fall_beyond_the_others_departs_and_gives_its_surplus() -> None:
    at = NIGHT.time_of(10)
    tonight = [v - max(0.0, 0.08 * (phase - 6)) for phase, v in enumerate(EARLIER[2])]
    found = departure(NIGHT, at, tonight[10], tonight, EARLIER)
    assert found.scales > 3.0
    assert found.fall > found.usual
    assert found.surplus > 0


def test_a_probe_that_stands_lower_and_falls_no_farther_than_usual_departs_by_nothing() -> None:
    at = NIGHT.time_of(10)
    tonight = [v - 0.5 for v in EARLIER[2]]
    assert departure(NIGHT, at, tonight[10], tonight, EARLIER).scales == 0.0
