"""What a notice says: enough for a tired person in the dark, and nothing that is not known."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.text import body, subject
from dawnline.catalogue_file import shipped
from dawnline.event import Change, Transition

CATALOGUE = shipped()
ZONE = ZoneInfo("Europe/Berlin")
AT = 1_780_455_000_000  # Wed 3 June 2026, 04:50 in Berlin


def transition(change: Change, alarm: str = "ph-low", probe: str | None = "ph") -> Transition:
    return Transition(7, AT, AT - 600_000, alarm, change, "high", probe, 6.31, "pH 6.31, below 6.5")


@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("change", ["raised", "escalated", "unshelved", "released"])
def test_a_notice_names_fact_time_steps_and_cautions(name: str, change: Change) -> None:
    alarm, text = CATALOGUE[name], body(CATALOGUE, transition(change, name), ZONE)
    assert text.startswith(f"{alarm.title}: pH 6.31, below 6.5.\n")
    assert "Since Wed 03 Jun 04:40; decided Wed 03 Jun 04:50; probe ph." in text
    for part in (alarm.meaning, alarm.sure, *alarm.steps, *alarm.cautions):
        assert part.replace("{probe}", "ph") in text
    assert text.index("\n  1. ") < text.index("\n  2. ") < text.index("\n  - ")
    assert "dawnline alarms acknowledge 7" in text
    assert "\n\n\n" not in text


def test_the_changes_are_told_apart() -> None:
    texts = {c: body(CATALOGUE, transition(c), ZONE) for c in ("raised", "escalated", "unshelved", "released")}
    assert len(set(texts.values())) == 4
    assert "more urgent" in texts["escalated"]
    assert "still there" in texts["unshelved"]


def test_after_a_suppression_nothing_is_claimed_that_nobody_judged() -> None:
    text = body(CATALOGUE, transition("released"), ZONE)
    assert "still there" not in text
    assert "nothing was judged meanwhile" in text


def test_the_end_is_told_in_a_few_lines_with_how_long_it_lasted() -> None:
    text = body(CATALOGUE, transition("returned"), ZONE)
    assert "It lasted 10 min, from Wed 03 Jun 04:40 to Wed 03 Jun 04:50." in text
    assert "First steps" not in text


def test_an_alarm_of_the_whole_pond_names_no_probe() -> None:
    assert "probe" not in body(CATALOGUE, transition("raised", "delivery-failing", None), ZONE).lower()


def test_the_subject_fits_a_lock_screen() -> None:
    for alarm in CATALOGUE:
        assert len(subject(CATALOGUE, transition("raised", alarm), "Heron Lane")) <= 78
    assert subject(CATALOGUE, transition("raised"), "Heron Lane") == "Heron Lane: pH is low (high priority)"
    assert subject(CATALOGUE, transition("returned"), "Heron Lane") == "Heron Lane: over: pH is low"
