"""The store, as a start finds it: whole, damaged, full, or on a card that takes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import structlog

from dawnline.errors import DamagedStoreError, StoreError
from dawnline.service.look_over import is_small
from dawnline.settings import Settings
from dawnline.store import spare
from dawnline.store.failure import of_the_card
from dawnline.store.store import Store
from dawnline.store.upkeep import emptied, set_aside

_log = structlog.get_logger(__name__)


def open_store(settings: Settings, now: int) -> Store:
    """The store; `now` is the time [ms] by which one that is set aside is named.

    A damaged one is set aside, and the watch goes on with a new one. One that can be read and not written is read, and
    what comes is held in memory until it can be written. Raises StoreError for what only the keeper can mend.
    """
    path, probes = settings.store.path, [(p.name, p.quantity) for p in settings.probes]
    why = "it is empty, all that was in it is gone"
    if not emptied(path):
        try:
            return _opened(path, probes)
        except DamagedStoreError as error:
            why = str(error)
        except StoreError as error:
            if not of_the_card(error) or (isinstance(error.__cause__, PermissionError) and not path.exists()):
                raise
            return _unwritable(path, probes, error)
    aside = set_aside(path, now)
    _log.error("the store is damaged and was set aside; going on with a new one", why=why, aside=str(aside))
    return Store.open(path, probes)


def _opened(path: Path, probes: Sequence[tuple[str, str]]) -> Store:
    try:
        store = Store.open(path, probes, check=is_small(path))
    except DamagedStoreError:
        raise
    except StoreError:
        if not spare.spend(path):
            raise
        store = Store.open(path, probes, check=is_small(path))  # on a full card
    return _sound(store, path)


def _sound(store: Store, path: Path) -> Store:
    try:
        store.check_start()
    except StoreError:
        store.close()
        raise
    spare.keep(path)
    return store


def _unwritable(path: Path, probes: Sequence[tuple[str, str]], error: StoreError) -> Store:
    """What is on the card is where the watch begins. Raises the `error` where it cannot be read either."""
    try:
        store = _sound(Store.open_unwritable(path, probes, str(error).removeprefix(f"store {path}: ")), path)
    except StoreError as another:
        _log.error("the store can be neither written nor read", why=str(another))
        raise error from None
    _log.error("the store cannot be written; going on from what is in it", why=str(error))
    return store
