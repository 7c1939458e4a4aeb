"""Rain in the store: as the fold said it, in order, and not once more."""

from __future__ import annotations

from pathlib import Path

from dawnline.event import Rainfall
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store


def test_rain_comes_back_as_it_was_said(store: Store, path: Path) -> None:
    given = [Rainfall("rain", 0, 900, 0.4), Rainfall("rain", 900, 1800, 2.2), Rainfall("roof", 0, 900, 0.6)]
    store.commit(Batch(rain=given[1:]))
    store.commit(Batch(rain=given[:2]))
    with Reader.open(path) as reader:
        assert reader.rain("rain", 0, 9999) == given[:2]
        assert reader.rain("rain", 901, 1800) == []
        assert reader.rain("roof", 0, 9999) == given[2:]
