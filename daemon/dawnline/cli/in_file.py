"""Reading a file that somebody named, whole."""

from __future__ import annotations

from pathlib import Path

from dawnline.errors import SettingsError


def text_of(path: Path, expected: str, *, newline: str | None = None) -> str:
    """Its text; `newline` is as for `open`. Raises SettingsError, with what was `expected`, where it cannot be read."""
    try:
        with path.open(encoding="utf-8-sig", newline=newline) as file:
            return file.read()
    except UnicodeDecodeError:
        why = "it is not UTF-8"
    except OSError as error:
        why = error.strerror or type(error).__name__
    raise SettingsError(f"{path}: cannot be read ({why}), expected {expected}")
