"""What `status` says of the night."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from dawnline.cli.status import _lines
from dawnline.queries.present import Present


def test_tonight_stands_in_words() -> None:
    night = {
        "night": "2026-06-09", "low": 6.812, "low_p10": 6.74, "low_p90": 6.88, "at": "2026-06-09T05:10:00+02:00",
        "probe": "ph", "last_lows": [6.83, 6.85, 6.84],
    }  # fmt: skip
    data = {
        "pond": "Heron Lane",
        "time": "now",
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
