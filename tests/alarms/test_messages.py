"""The messages as people get them, word for word: one file an alarm in messages/, and what follows on one.

Read them as you would at two in the morning. After a change of texts on purpose write them anew, and read the
difference:

    .venv/bin/python tests/alarms/test_messages.py
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.text import body, subject
from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Change, Priority, Transition

FOLDER = Path(__file__).parent / "messages"
ZONE = ZoneInfo("Europe/Berlin")
NIGHT = round(datetime(2026, 6, 13, 2, 40, tzinfo=ZONE).timestamp() * 1000)
MORNING = NIGHT + 6 * HOUR_MS

# Of each alarm: when, how long after it began, priority, probe, and a fact in the words of the fold.
FACTS: dict[str, tuple[int, int, Priority, str | None, str]] = {
    "ph-low": (NIGHT, 10, "high", "ph", "pH 6.43, below 6.5; this pond's ordinary dawn low is 6.94"),
    "ph-crash": (NIGHT, 5, "high", "ph", "pH 5.91, below 6; this pond's ordinary dawn low is 6.94"),
    "sudden-drop": (NIGHT, 40, "high", "ph", "pH fell 0.46 in 1 h; 0.07 is usual at this hour"),
    "night-slide": (
        NIGHT - 3 * HOUR_MS, 10, "high", "ph",
        "pH has fallen 0.41 since 20:50; 0.12 is usual at this hour; tonight's low is expected at pH 6.38 "
        "(6.21 to 6.57) near 05:10; below 6.5 from about 03:40; the last nights went down to 6.95, 6.93, 6.97",
    ),
    "buffer-running-out": (
        MORNING, 0, "medium", None,
        "the buffer is being used up; the dawn low is likely to fall below 6.5 Wednesday to Friday; about 0.8 dKH "
        "(0.29 meq/L) are left",
    ),
    "ammonia": (
        MORNING + 8 * HOUR_MS, 0, "medium", None,
        "un-ionised ammonia 0.062 mg/L as N at the highest pH of these days (8.47, 22 degC), 0.004 at the lowest "
        "(7.21); 0.5 mg/L in all as N by the test of 2026-06-13 15:10",
    ),
    "ph-high": (MORNING + 9 * HOUR_MS, 120, "low", "ph", "pH 9.21, above 9"),
    "oxygen-low": (NIGHT, 10, "medium", "oxygen", "5.3 mg/L, below 6"),
    "temperature-low": (MORNING, 30, "low", "water", "3.6 degC, below 4"),
    "temperature-high": (MORNING + 9 * HOUR_MS, 30, "low", "water", "27.6 degC, above 27"),
    "wide-swing": (MORNING + 9 * HOUR_MS, 30, "low", "ph", "pH moved by 1.24 in 24 hours; 1 is wide"),
    "no-data": (NIGHT, 5, "medium", "ph", "nothing received for 5 min"),
    "probe-suspect": (MORNING, 10, "medium", "ph", "stuck: it has shown 7.12 for 3 h 10 min, for 10 min"),
    "calibration-due": (MORNING, 0, "low", "ph", "the last calibration is 31 d old"),
    "clock-unset": (
        MORNING, 30, "low", None, "for 30 min now the clock is not known to be set; times are provisional"
    ),
    "store-failing": (
        NIGHT, 1, "medium", None,
        "the disk is full: make room; nothing already recorded is lost (database or disk is full)",
    ),
    "delivery-failing": (NIGHT, 1, "high", None, "Ada: mail.example.org does not answer: timed out"),
}  # fmt: skip
QUANTITIES = {"ph": "ph", "water": "temperature", "oxygen": "dissolved_oxygen", "rain": "rain"}
# probe-suspect of what does not measure pH: priority, probe, fact.
NOT_OF_PH: dict[str, tuple[Priority, str, str]] = {
    "probe-suspect-thermometer": ("medium", "water", "wire: 6 of the last 10 readings are not good (out of span)"),
    "probe-suspect-oxygen": ("medium", "oxygen", "frozen: it has shown 8.1 for 3 h 10 min"),
    "probe-suspect-rain": (
        "low", "rain",
        "absurd: more rain than ever fell in such a time; is `gauge` right, a running total or an amount, and `scale`?",
    ),
}  # fmt: skip
FOLLOWING: dict[str, tuple[Change, int, str]] = {
    "ph-low-escalated": ("escalated", 20, "pH 6.31, below 6.5; this pond's ordinary dawn low is 6.94"),
    "ph-low-unshelved": ("unshelved", 70, "pH 6.38, below 6.5; this pond's ordinary dawn low is 6.94"),
    "ph-low-released": ("released", 70, "pH 6.38, below 6.5; this pond's ordinary dawn low is 6.94"),
    "ph-low-over": ("returned", 290, "pH 6.64; this pond's ordinary dawn low is 6.94"),
}


def messages() -> dict[str, str]:
    """Every message by the name of its file."""
    found = {}
    for number, (alarm, (at, minutes, priority, probe, fact)) in enumerate(FACTS.items(), 101):
        found[alarm] = written(
            Transition(number, at, at - minutes * MINUTE_MS, alarm, "raised", priority, probe, None, fact)
        )
    for number, (name, (urgency, probe, fact)) in enumerate(NOT_OF_PH.items(), 201):
        began = MORNING - 10 * MINUTE_MS
        found[name] = written(Transition(number, MORNING, began, "probe-suspect", "raised", urgency, probe, None, fact))
    for name, (change, minutes, fact) in FOLLOWING.items():
        began = NIGHT - 10 * MINUTE_MS
        at = began + minutes * MINUTE_MS
        found[name] = written(Transition(101, at, began, "ph-low", change, "high", "ph", None, fact))
    return found


def written(transition: Transition) -> str:
    texts = shipped().with_pond(None, QUANTITIES)
    return f"{subject(texts, transition, 'Heron Lane')}\n\n{body(texts, transition, ZONE)}\n"


@pytest.mark.parametrize("name", [*FACTS, *NOT_OF_PH, *FOLLOWING])
def test_the_message_is_what_was_read(name: str) -> None:
    assert (FOLDER / f"{name}.txt").read_text(encoding="utf-8") == messages()[name]


def test_every_alarm_has_its_message_and_there_is_no_other() -> None:
    assert list(FACTS) == sorted(FACTS, key=list(shipped()).index)
    assert set(FACTS) == set(shipped())
    assert {path.stem for path in FOLDER.iterdir()} == {*FACTS, *NOT_OF_PH, *FOLLOWING}


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for stem, text in messages().items():
        (FOLDER / f"{stem}.txt").write_text(text, encoding="utf-8")
