"""Saving and restoring what a part of the fold remembers, exactly, as plain JSON.

A `Stateful` names the attributes it must not forget in `KEPT`. They may hold None, bool, int, float, str, another
`Stateful`, a dict with str keys, or a list, tuple or deque whose members are scalars or tuples of scalars. Floats
survive JSON exactly (repr is the shortest text that reads back the same).
"""

from __future__ import annotations

from collections import deque
from typing import Any, ClassVar, Final

# What JSON makes of each type; what is None now may have become anything.
_JSON: Final[dict[type, type | tuple[type, ...]]] = {
    bool: bool, int: int, float: (int, float), str: str, dict: dict, list: list, tuple: list, deque: list,
}  # fmt: skip


class Stateful:
    """Something with a memory. Subclasses list it in `KEPT`."""

    KEPT: ClassVar[tuple[str, ...]] = ()

    def save(self) -> dict[str, Any]:
        """The memory as plain JSON values."""
        return {name: _plain(getattr(self, name)) for name in self.KEPT}

    def restore(self, saved: dict[str, Any]) -> None:
        """Take back what `save` gave. Raises KeyError or TypeError where `saved` is of another shape."""
        for name in self.KEPT:
            setattr(self, name, _like(getattr(self, name), saved[name]))


def _plain(value: Any) -> Any:
    if isinstance(value, Stateful):
        return value.save()
    if isinstance(value, dict):
        return {key: _plain(member) for key, member in value.items()}
    if isinstance(value, list | tuple | deque):
        return [_plain(member) for member in value]
    return value


def _like(now: Any, saved: Any) -> Any:
    if isinstance(now, Stateful):
        now.restore(saved)
        return now
    _must_suit(now, saved)
    if isinstance(now, deque):
        return deque((_member(member) for member in saved), now.maxlen)
    if isinstance(now, dict):
        return {key: _like(now.get(key), member) for key, member in saved.items()}
    if isinstance(now, tuple):
        return _member(saved)
    if isinstance(saved, list):
        return [_member(member) for member in saved]
    return saved


def _must_suit(now: Any, saved: Any) -> None:
    wanted = _JSON.get(type(now), object)
    if saved is not None and not isinstance(saved, wanted):
        raise TypeError(f"expected {type(now).__name__}, found {type(saved).__name__}")


def _member(saved: Any) -> Any:
    return tuple(saved) if isinstance(saved, list) else saved
