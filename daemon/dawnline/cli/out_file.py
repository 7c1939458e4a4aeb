"""Writing a file that somebody named: never over the pond's own files, nor over what is not ours; whole or not."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

from dawnline.errors import SettingsError
from dawnline.settings import Settings

HEAD_BYTES = 2000


def check_out(path: Path, settings: Settings, is_ours: Callable[[str], bool]) -> None:
    """Raises SettingsError where `path` may not be written; `is_ours` is shown the beginning of a file that exists."""
    not_of_the_pond(path, settings)
    if path.is_dir():
        raise SettingsError(f"{path}: found a directory, expected the name of a file")
    if not path.parent.is_dir():
        raise SettingsError(f"{path}: cannot be written (there is no folder {path.parent}); name another file")
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES).decode("utf-8", "replace")
    except FileNotFoundError:
        return
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror}); name another file") from None
    if head and not is_ours(head):
        raise SettingsError(f"{path}: exists and was not written by this command; delete it or name another file")


def write_out(path: Path, text: str) -> None:
    """Write `text`, in one go: a reader, or a power cut, meets the old file or the new one.

    Raises SettingsError where it cannot be written.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_text(text, encoding="utf-8", newline="")
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise SettingsError(f"{path}: cannot be written ({error.strerror}); name another file") from None
    print(f"written to {path}", file=sys.stderr)


def not_of_the_pond(path: Path, settings: Settings) -> None:
    """Raises SettingsError where `path` is the configuration, the store, or a file beside it: log, lock, inbox."""
    named, store = path.resolve(), settings.store.path.resolve()
    beside = named.parent == store.parent and named.name.startswith((store.name, f"{store.stem}.inbox.db"))
    if beside or named == settings.path.resolve():
        raise SettingsError(f"{path}: is a file of this pond itself; name another file")
