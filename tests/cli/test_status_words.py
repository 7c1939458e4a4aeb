"""What `status` says of the night."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from dawnline.cli.status import _lines
from dawnline.cli.status_many import _values
from dawnline.queries.present import Present


def test_tonight_stands_in_words() -> None:
    night = {
        "night": "2026-06-09", "low": 6.812, "low_p10": 6.74, "low_p90": 6.88, "at": "2026-06-09T05:10:00+02:00",
        "probe": "ph", "last_lows": [6.83, 6.85, 6.84],
    }  # fmt: skip
    data = {
        "pond": "Heron Lane",
        "time": "2026-06-08T23:00:00+02:00",
        "probes": {},
        "today": [],
        "alarms": [],
        "links": [],
        "tonight": [night],
    }
    text = "\n".join(_lines(Present(data, running=True, age_s=1.0), ZoneInfo("UTC")))
    assert "tonight    ph: low about 6.81, in eight nights of ten between 6.74 and 6.88, near 05:10" in text
    assert "the last nights: 6.83, 6.85, 6.84" in text
    del data["tonight"]  # what an older service wrote
    assert "tonight" not in "\n".join(_lines(Present(data, running=True, age_s=1.0), ZoneInfo("UTC")))


def _of(probe: dict[str, Any], alarms: Sequence[dict[str, Any]] = ()) -> str:
    time = "2026-06-14T05:00:00+02:00"
    data = {
        "pond": "Heron Lane",
        "time": time,
        "probes": {"ph": probe},
        "today": [],
        "alarms": list(alarms),
        "links": [],
    }
    return "\n".join(_lines(Present(data, running=True, age_s=1.0), ZoneInfo("UTC")))


def _probe(**more: Any) -> dict[str, Any]:
    return {
        "quantity": "ph", "unit": "pH", "value": 7.12, "flag": "good", "time": "2026-06-14T05:00:00+02:00",
        "age_s": 0.0, "out_until": None, "ph": 7.12, "swing_24h": None,
    } | more  # fmt: skip


def test_before_three_nights_are_known_it_says_how_many_are_wanting() -> None:
    assert "tonight    ph: foreseen once 2 more nights are known" in _of(_probe(nights_wanting=2))
    assert "tonight    ph: foreseen once 1 more night is known" in _of(_probe(nights_wanting=1))
    assert "tonight" not in _of(_probe(nights_wanting=0))


def test_a_probe_out_of_service_says_so_and_what_keeps_still_stands_in_one_line() -> None:
    until = "2026-06-14T05:30:00+02:00"
    still = {"id": None, "priority": "high", "probe": "ph", "state": "suppressed by design", "by": None, "since": None,
             "until": until, "text": ""}  # fmt: skip
    alarms = [{**still, "alarm": "ph-low"}, {**still, "alarm": "ph-crash"},
              {**still, "alarm": "calibration-due", "id": 2, "text": "it was never calibrated"}]  # fmt: skip
    text = _of(_probe(flag="not evaluated", out_until=until), alarms)
    assert "pH 7.12      not evaluated, 0 s old, out of service until Sun 2026-06-14 05:30" in text
    assert "   -         ph-low, ph-crash [ph]: suppressed by design, until Sun 14 Jun 05:30\n" in text
    assert "   2  high   calibration-due [ph]: suppressed by design, until Sun 14 Jun 05:30\n      it was never" in text


def test_what_speaks_against_a_probe_stands_below_its_value() -> None:
    text = _of(_probe(flag="suspect", doubt="frozen: it has stood still for 5 h"))
    assert "pH 7.12      suspect, 0 s old\n             doubted: frozen: it has stood still for 5 h\n" in text
    assert "doubted" not in _of(_probe(doubt=None))


def test_the_line_of_one_of_many_ponds_says_what_is_held_against_a_value() -> None:
    probes = {"ph": _probe(flag="suspect", doubt="frozen: it rests"), "deep": _probe(age_s=7200.0), "old": _probe()}
    present = Present({"probes": probes}, running=True, age_s=1.0)
    assert _values(present) == ["ph pH 7.12 (suspect, doubted), deep pH 7.12 (2 h old), old pH 7.12"]


def test_values_stand_below_one_another() -> None:
    warm = _probe(quantity="temperature", value=18.44)
    assert "18.4 \N{DEGREE SIGN}C      good" in _of(warm)
    assert "pH 7.12      good" in _of(_probe())


def test_what_was_read_before_the_service_stopped_is_dated_and_not_young() -> None:
    probe = {
        "quantity": "ph", "unit": "pH", "value": 7.12, "flag": "good", "time": "2026-06-14T05:00:00+02:00",
        "age_s": 0.0, "out_until": None, "ph": 7.12, "swing_24h": None,
    }  # fmt: skip
    data = {"pond": "Heron Lane", "time": "2026-06-14T05:00:00+02:00", "probes": {"ph": probe}, "today": [],
            "alarms": [], "links": []}  # fmt: skip
    for running, said in ((True, "good, 0 s old"), (False, "good, read Sun 2026-06-14 05:00")):
        text = "\n".join(_lines(Present(data, running=running, age_s=1.0 if running else None), ZoneInfo("UTC")))
        assert said in text
