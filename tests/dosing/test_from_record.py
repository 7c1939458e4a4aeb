"""What the record says of the water: the newest tests, how old they are, and a crash."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.account.account import Account, Point
from dawnline.dosing.from_record import Newest, Record, last_acid, pond_water, reckoned_on
from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.event import Act, Day, Transition
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.water.units import dkh_from_meq_l

POND = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin", volume_litres=14000)
NOW = round(datetime(2026, 6, 10, 9, tzinfo=ZoneInfo("Europe/Berlin")).timestamp() * 1000)


def act(days_ago: float, kind: str, **body: Any) -> Act:
    return Act(f"{kind}-{days_ago}", NOW - round(days_ago * DAY_MS), kind, body, "ada")


def day(date: str, low: float | None, high: float | None) -> Day:
    return Day(date, "ph", low, 1, high, 2, None, None, 0.0, 0.0, 1.0, False)


def record(*done: Act, days: tuple[Day, ...] = (), told: tuple[Transition, ...] = (), **latest: float) -> Record:
    newest = {name: Newest(NOW - HOUR_MS, value) for name, value in latest.items()}
    return Record(POND, LimitSettings(), done, days, told, newest, NOW)


def test_the_newest_figure_of_each_test_counts():
    found = pond_water(
        record(
            act(5, "hand-test", kh_dkh=4, ph=7.0),
            act(2, "hand-test", kh_dkh=3, kh_step_dkh=1, tan_mg_l=0.4),
            act(1, "water-change", share=0.25),
            days=(day("2026-06-08", 7.2, 8.4), day("2026-06-09", 7.1, None)),
            ph=7.6,
            temperature=19.5,
        )
    )
    assert dkh_from_meq_l(found.kh.value) == pytest.approx(2.5)
    assert dkh_from_meq_l(found.kh_low) == pytest.approx(2.0)
    assert "your test of 2026-06-08 09:00, 2 d ago" in found.kh.origin
    assert found.tan.value == pytest.approx(0.3)  # less the water changed since
    assert (found.ph.value, found.celsius.value) == (7.6, 19.5)
    assert "probe" in found.ph.origin
    assert (found.dusk_ph.value, found.dawn_ph.value) == (8.4, 7.1)
    assert found.crashed == ""


def test_a_test_of_ammonia_counts_for_three_days_and_not_across_a_crash():
    assert pond_water(record(act(3.1, "hand-test", tan_mg_l=0.4))).tan is None
    crash = Transition(1, NOW - DAY_MS, NOW - DAY_MS, "ph-crash", "raised", "high", "ph", 5.8, "")
    found = pond_water(record(act(2, "hand-test", tan_mg_l=0.4), told=(crash,), ph=7.2))
    assert found.tan is None
    assert found.crashed
    assert pond_water(record(act(0.5, "hand-test", tan_mg_l=0.4), told=(crash,), ph=7.2)).tan.value == 0.4


def test_a_test_of_kh_from_before_the_crash_bounds_nothing_any_more():
    crash = Transition(1, NOW - DAY_MS, NOW - DAY_MS, "ph-crash", "raised", "high", "ph", 5.8, "")
    found = pond_water(record(act(2, "hand-test", kh_dkh=3), told=(crash,), ph=6.2))
    assert found.kh_low == 0.0
    assert "before the crash: test again" in found.kh.origin
    after = pond_water(record(act(0.1, "hand-test", kh_dkh=1), told=(crash,), ph=6.2))
    assert "before the crash" not in after.kh.origin


def test_a_test_of_kh_counts_for_as_long_as_the_account_carries_it_on():
    assert pond_water(record(act(119, "hand-test", kh_dkh=6))).kh is not None
    assert pond_water(record(act(121, "hand-test", kh_dkh=6))).kh is None


def test_a_low_ph_alone_lets_a_fresh_test_of_ammonia_count():
    found = pond_water(record(act(0.1, "hand-test", tan_mg_l=0.4), ph=6.3))
    assert found.crashed
    assert found.tan.value == 0.4


@pytest.mark.parametrize(
    ("days", "ph", "crashed"),
    [((day("2026-06-09", 5.9, 7.0),), 7.0, "dawn low was 5.90"), ((), 6.4, "its pH is 6.40"), ((), 6.6, "")],
)
def test_a_crash_is_seen(days, ph, crashed):
    found = pond_water(record(days=days, ph=ph)).crashed
    assert (crashed in found) if crashed else found == ""


def test_a_ph_and_a_temperature_by_hand_are_the_present_ones_for_a_few_hours():
    fresh = pond_water(record(act(0.1, "hand-test", ph=8.9, temperature_c=21)))
    assert (fresh.ph.value, fresh.celsius.value) == (8.9, 21)
    old = pond_water(record(act(40, "hand-test", ph=8.9, temperature_c=4)))
    assert (old.ph, old.celsius) == (None, None)


def test_a_low_ph_by_hand_is_a_crash_for_three_days():
    yesterday = pond_water(record(act(1, "hand-test", ph=6.1)))
    assert yesterday.ph is None
    assert "by hand" in yesterday.crashed
    assert pond_water(record(act(4, "hand-test", ph=6.1))).crashed == ""


def test_an_empty_record_knows_the_volume():
    found = pond_water(record())
    assert found.litres.value == 14000
    assert (found.kh, found.ph, found.tan, found.dusk_ph) == (None, None, None, None)


def test_acid_logged_is_remembered():
    assert last_acid([act(9, "dose", what="white vinegar"), act(2, "dose", what="Bicarbonate")], NOW) == 9.0
    assert last_acid([act(2, "dose", what="bicarbonate")], NOW) is None


@pytest.mark.parametrize("name", ["pH-Minus", "muriatic", "HCl 30%", "sodium bisulfate", "citric acid", "pH down"])
def test_acid_goes_by_many_names(name):
    assert last_acid([act(2, "dose", what=name)], NOW) == 2.0


def test_an_old_test_of_kh_is_carried_on_by_the_account():
    found = pond_water(record(act(10, "hand-test", kh_dkh=4), ph=7.4))
    books = Account(NOW, (Point(NOW, 0.8, 0.1),), tests=3, last_test=NOW - 10 * DAY_MS)
    later = reckoned_on(found, books)
    assert later.kh.value == 0.8
    assert later.kh_low == pytest.approx(0.8 - 1.2816 * 0.1)
    assert later.kh.origin.startswith("the account, carried on from your test of 2026-05-31")
    fresh = Account(NOW, (Point(NOW, 0.8, 0.1),), tests=3, last_test=NOW - DAY_MS)
    assert reckoned_on(found, fresh) == found
    assert reckoned_on(found, Account(NOW, why_not="none")) == found
