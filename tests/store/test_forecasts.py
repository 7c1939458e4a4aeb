"""Forecasts in the store: as they were given, in order, and not once more."""

from __future__ import annotations

from pathlib import Path

from dawnline.event import Forecast
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store


def tonight(at: int, low: float, probe: str = "ph") -> Forecast:
    body = {
        "night": "2026-06-09",
        "low": low,
        "low_p10": low - 0.1,
        "low_p90": None,
        "probe": probe,
        "last_lows": [7.0],
    }
    return Forecast("tonight", at, body)


MORNING = Forecast("buffer", 5000, {"reaches_low_on": None, "trend": "steady"}, {"nights": [["2026-06-08", 7.1, None]]})


def test_they_come_back_as_they_were_given(store: Store, path: Path) -> None:
    given = [tonight(1000, 6.9), tonight(1000, 6.8, "süd"), tonight(2000, 6.7)]
    store.commit(Batch(forecasts=[MORNING, *reversed(given)]))
    with Reader.open(path) as reader:
        assert reader.forecasts("tonight", 0, 9999) == given
        assert reader.forecasts("tonight", 1001, 2000) == []
        assert reader.forecasts("buffer", 5000, 5001) == [MORNING]
        assert reader.last_forecast("buffer") == MORNING
        assert reader.last_forecast("buffer", before=4999) is None
        assert reader.last_forecast("tonight", before=1999) == tonight(1000, 6.9)


def test_the_same_moment_again_takes_the_place_of_the_first(store: Store, path: Path) -> None:
    store.commit(Batch(forecasts=[tonight(1000, 6.9)]))
    store.commit(Batch(forecasts=[tonight(1000, 6.5)]))
    with Reader.open(path) as reader:
        assert reader.forecasts("tonight", 0, 9999) == [tonight(1000, 6.5)]
