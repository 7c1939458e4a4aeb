"""The buffer line looked back on."""

from __future__ import annotations

from datetime import date, timedelta
from math import log10

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.event import Act, Day
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.review.buffer import buffer_text

POND = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin", volume_litres=14000)
BEGIN = date(2026, 6, 1)
FIRST_MS = 1_780_282_800_000  # 2026-06-01T05:00 at Heron Lane


def days(nights: int, probe: str = "ph", a_day: float = 0.05) -> list[Day]:
    """Lows of a pond that uses 0.05 of 1 meq/L a day: under 6.5 in the night of 20 June."""
    return [
        Day((BEGIN + timedelta(days=n)).isoformat(), probe, 7.5 + log10(1 - a_day * n), FIRST_MS + n * DAY_MS,
            None, None, None, None, 0, 0, 1, partial=False)
        for n in range(nights)
    ]  # fmt: skip


def test_the_words_of_the_last_day() -> None:
    text = buffer_text(days(17), [], POND, LimitSettings())
    assert text.startswith("as of 2026-06-17: the buffer is being used up; the dawn low is likely to fall below 6.5 ")
    assert text.endswith("Friday to Sunday")


def test_acts_count() -> None:
    fasting = Act("1", FIRST_MS + 16 * DAY_MS - 9 * HOUR_MS, "feed", {"grams_a_day": 0}, "ada")
    assert "nothing is fed" in buffer_text(days(17), [fasting], POND, LimitSettings())
    alien = Act("2", FIRST_MS, "juggling", {}, "ada")
    assert buffer_text(days(17), [alien], POND, LimitSettings()) == buffer_text(days(17), [], POND, LimitSettings())


def test_the_probe_that_can_say_something_speaks() -> None:
    text = buffer_text([*days(3, "old"), *days(17, "new")], [], POND, LimitSettings())
    assert "being used up" in text


def test_of_two_that_can_the_first_speaks() -> None:
    fast, slow = days(17, "fast"), days(17, "slow", a_day=0.03)
    alone = [buffer_text(each, [], POND, LimitSettings()) for each in (fast, slow)]
    assert alone[0] != alone[1]
    both = [buffer_text(each, [], POND, LimitSettings()) for each in ([*fast, *slow], [*slow, *fast])]
    assert both == alone


def test_without_nights_it_is_not_evaluated() -> None:
    assert "no dawn low" in buffer_text([], [], POND, LimitSettings())
    assert "too few nights" in buffer_text(days(3), [], POND, LimitSettings())
