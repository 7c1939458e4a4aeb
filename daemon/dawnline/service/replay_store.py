"""Fills a new store from a replay, so that the service can go on from there."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dawnline.errors import SettingsError
from dawnline.event import Effect
from dawnline.pipeline import Pipeline
from dawnline.service.pending import Pending
from dawnline.settings import Settings
from dawnline.store.store import Store

ROWS_A_COMMIT: Final = 2000  # nobody waits for an acknowledgement here


class ReplayStore:
    """Takes every step's effects and commits them in large transactions. Notices go to nobody.

    Raises SettingsError for a store that holds a record already.
    """

    def __init__(self, path: Path, settings: Settings) -> None:
        self.store = Store.open(path, [(p.name, p.quantity) for p in settings.probes])
        if self.store.cursor() is not None:
            self.store.close()
            raise SettingsError(
                f"{path}: already holds a record; `replay --store` fills a new store: name another file"
            )
        self.pending = Pending()

    def take(self, effects: Sequence[Effect], pipeline: Pipeline) -> None:
        """Take the effects of one step."""
        self.pending.take(effects)
        if len(self.pending.readings) >= ROWS_A_COMMIT:
            self._commit(pipeline, last=False)

    def finish(self, pipeline: Pipeline) -> None:
        """Commit the rest and the pipeline's memory."""
        self._commit(pipeline, last=True)

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()

    def _commit(self, pipeline: Pipeline, *, last: bool) -> None:
        self.store.commit(self.pending.batch(pipeline, checkpoint=last))
        pipeline.kept()
        self.pending = Pending()
