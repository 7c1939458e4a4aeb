"""The forwarder, wired to this pond's store: `[influxdb]` copies every reading on to a central store."""

from __future__ import annotations

from pathlib import Path

from dawnline.delivery.forward.forwarder import Forwarder
from dawnline.delivery.forward.influx import Influx
from dawnline.delivery.forward.place import Place, Progress, Row, progress_file
from dawnline.settings import Settings
from dawnline.store.reader import Reader


class StoreSource:
    """The readings of a store in the order in which they arrived."""

    def __init__(self, path: Path) -> None:
        """Raises StoreError."""
        self._reader = Reader.open(path)

    def arrived(self, after: Place, limit: int) -> list[Row]:
        """The next rows. Raises StoreError."""
        found = self._reader.arrived(after, limit)
        return [
            Row(Place(received_at, probe, at, n), quantity, value, flag)
            for received_at, probe, at, n, quantity, value, flag in found
        ]


def copied_up_to(settings: Settings) -> int | None:
    """Up to which time of arrival [ms] readings are certainly at the central store; None where none is configured."""
    if settings.influxdb is None:
        return None
    return Progress.load(progress_file(settings.store.path)).place.received_at


def make_forwarder(settings: Settings) -> Forwarder | None:
    """The forwarder where `[influxdb]` asks for one; it starts with `start`."""
    influx, path, pond = settings.influxdb, settings.store.path, settings.pond.name
    if influx is None:
        return None
    return Forwarder(lambda: StoreSource(path), lambda: Influx(influx, pond), Progress.load(progress_file(path)))
