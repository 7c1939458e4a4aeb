"""Climatology and attenuated signal: what they learn, and that they withhold no crash."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.quality.attenuated import Attenuated
from dawnline.quality.climatology import ENOUGH, KEPT_DAYS, Climatology
from dawnline.quality.judge import Judge
from dawnline.quality.settings import USUAL, ClimatologySettings, QualitySettings, SpikeSettings, settled
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample

GOOD = (Flag.GOOD, Reason.NONE)
NOT_EVALUATED = (Flag.NOT_EVALUATED, Reason.NONE)


def moment(year: int, month: int, day: int, hour: int = 0) -> int:
    return round(datetime(year, month, day, hour, tzinfo=UTC).timestamp() * 1000)


def seen(check: Climatology, year: int, days: int, low: float = 7.0, high: float = 8.0) -> None:
    """`days` days of June."""
    for day in range(1, days + 1):
        check.push(moment(year, 6, day, 5), low)
        check.push(moment(year, 6, day, 17), high)
    check.push(moment(year, 7, 1), 7.5)


def test_a_month_is_judged_by_enough_days_of_earlier_years() -> None:
    check = Climatology(0.3)
    seen(check, 2024, ENOUGH - 1)
    assert check.push(moment(2025, 6, 1), 3.0) == NOT_EVALUATED
    seen(check, 2025, 20)
    verdicts = [check.push(moment(2026, 6, 1, hour), value)[0] for hour, value in enumerate((6.7, 6.69, 8.3, 8.31))]
    assert verdicts == [Flag.GOOD, Flag.SUSPECT, Flag.GOOD, Flag.SUSPECT]
    assert check.learned
    assert check.since == moment(2026, 6, 1, 3)


def test_this_year_does_not_judge_itself() -> None:
    check = Climatology(0.3)
    seen(check, 2024, 28)
    assert check.push(moment(2024, 6, 29), 3.0)[0] is Flag.NOT_EVALUATED


def test_a_tenth_of_wild_days_moves_nothing() -> None:
    check = Climatology(0.0)
    seen(check, 2024, 27)
    seen(check, 2025, 3, low=4.0, high=11.0)
    assert check.push(moment(2026, 6, 1), 6.9)[0] is Flag.SUSPECT
    assert check.push(moment(2026, 6, 1, 1), 8.1)[0] is Flag.SUSPECT


def test_only_the_latest_years_are_kept_and_the_memory_is_json() -> None:
    check = Climatology(0.0)
    for year in range(2010, 2020):
        seen(check, year, 28)
    assert len(check.months["6"]) == KEPT_DAYS
    other = Climatology(0.0)
    other.restore(json.loads(json.dumps(check.save())))
    assert other.save() == check.save()
    assert other.push(moment(2026, 6, 1), 6.9) == check.push(moment(2026, 6, 1), 6.9) != GOOD


def test_two_memories_merge_side_by_side() -> None:
    one, other = Climatology(0.0), Climatology(0.0)
    seen(one, 2024, 12)
    seen(other, 2025, 12)
    one.months["6"] += other.months["6"]
    assert one.push(moment(2026, 6, 1), 6.9)[0] is Flag.SUSPECT


def crash(judge: Judge) -> list[tuple[Flag, Reason]]:
    """pH falls from 7.5 to 5.5 within two hours of a day in June."""
    begin, found = moment(2026, 6, 10), []
    for minute in range(300):
        at = begin + minute * MINUTE_MS
        value = round(7.5 - 2.0 * max(0, min(1, (minute - 60) / 120)) + 0.01 * (minute % 2), 2)
        verdict = judge.push(Sample("ph", at, value, at))
        assert verdict is not None
        found.append(verdict)
    return found


def test_what_was_learned_withholds_no_crash() -> None:
    judge = Judge("ph")
    judge.climatology.months = {"6": [(2025, 7.0, 8.0)] * 30}
    found = crash(judge)
    assert {flag for flag, _ in found} == {Flag.GOOD}
    assert found[-1] == (Flag.GOOD, Reason.OUT_OF_SEASON)


def test_a_span_that_the_keeper_wrote_makes_a_reading_suspect() -> None:
    quality = QualitySettings(climatology=ClimatologySettings(june=(6.0, 9.0)))
    found = crash(Judge("ph", quality=quality))
    assert found[0] == GOOD
    assert found[-1] == (Flag.SUSPECT, Reason.OUT_OF_SEASON)


def test_a_day_without_life_is_attenuated_and_the_first_move_is_good() -> None:
    judge, begin = Judge("ph"), moment(2026, 6, 1)
    for number in range(25 * 60 + 1):
        at = begin + number * MINUTE_MS
        verdict = judge.push(Sample("ph", at, 7.5 + 0.01 * (number % 2), at))
        if at < begin + DAY_MS:
            assert verdict == GOOD
    assert verdict == (Flag.SUSPECT, Reason.ATTENUATED)
    assert judge.attenuated.since == begin + DAY_MS
    assert judge.push(Sample("ph", at + MINUTE_MS, 7.47, at + MINUTE_MS)) == GOOD
    assert judge.attenuated.since is None


def test_a_pond_at_rest_for_as_long_as_it_may_is_not_attenuated() -> None:
    judge, begin = Judge("ph"), moment(2026, 6, 1)
    judge.flat.learned, judge.flat.window = 40.0 * HOUR_MS, 40 * HOUR_MS
    for number in range(39 * 6):
        at = begin + number * 10 * MINUTE_MS
        assert judge.push(Sample("ph", at, 7.5, at)) == GOOD


def test_after_a_long_silence_a_whole_period_is_awaited() -> None:
    check = Attenuated(0.015, 0.0, period=DAY_MS)
    for hour in range(30):
        verdict = check.push(hour * HOUR_MS, 7.5)
    assert verdict[0] is Flag.SUSPECT
    check.skip(4 * HOUR_MS)
    assert check.push(34 * HOUR_MS, 7.5) == NOT_EVALUATED


def test_the_reading_after_a_gap_is_good_and_says_so() -> None:
    judge = Judge("ph")
    times = [i * 10_000 for i in range(60)]
    for at in times:
        assert judge.push(Sample("ph", at, 7.5 + at % 20_000 / 1e6, at)) == GOOD
    later = times[-1] + 5 * MINUTE_MS
    assert judge.push(Sample("ph", later, 7.51, later)) == GOOD
    assert judge.push(Sample("ph", later + 301_000, 7.5, later + 301_000)) == (Flag.GOOD, Reason.AFTER_GAP)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_has_its_thresholds(quantity: str) -> None:
    assert settled(quantity) is USUAL[quantity]


def test_what_the_keeper_gives_is_laid_over_what_is_usual() -> None:
    given = QualitySettings(off=("flat",), usual=(0, 30), spike=SpikeSettings(threshold=2.0))
    to = settled("temperature", given)
    assert set(to.off) == {"attenuated", "flat"}
    assert to.usual == (0, 30)
    assert (to.spike.threshold, to.spike.per_minute) == (2.0, 0.2)
    assert to.climatology == USUAL["temperature"].climatology


@pytest.mark.parametrize("check", ["usual", "spike", "rate", "flat", "attenuated", "climatology", "gap"])
def test_a_check_that_is_off_says_nothing(check: str) -> None:
    def reasons(quality: QualitySettings) -> set[Reason]:
        judge, at, found = Judge("ph", quality=quality), moment(2026, 6, 1), set()
        story = [(MINUTE_MS, 7.5)] * 2900 + [(MINUTE_MS, 9.6)] + [(MINUTE_MS, 7.5)] * 20
        story += [(10_000, 7.5 + 0.22 * i) for i in range(20)] + [(HOUR_MS, 7.5)]
        story += [(MINUTE_MS, 7.5 + 0.01 * (i % 2)) for i in range(1600)]
        for step, value in story:
            at += step
            verdict = judge.push(Sample("ph", at, value, at))
            found.add(verdict[1] if verdict else Reason.NONE)
        return found

    said = {
        "usual": Reason.UNUSUAL, "spike": Reason.SPIKE, "rate": Reason.TOO_FAST, "flat": Reason.FLAT,
        "attenuated": Reason.ATTENUATED, "climatology": Reason.OUT_OF_SEASON, "gap": Reason.AFTER_GAP,
    }[check]  # fmt: skip
    season = ClimatologySettings(june=(7.0, 7.505))
    assert said in reasons(QualitySettings(climatology=season))
    assert said not in reasons(QualitySettings.model_validate({"off": (check,), "climatology": season}))
