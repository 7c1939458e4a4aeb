"""Reading a TOML file that a keeper wrote: whatever is wrong with it as a file is said in words."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, Final

from dawnline.errors import SettingsError

_LARGEST: Final = 1 << 20  # bytes; a configuration is a page or two


def read_toml(path: Path, expected: str, absent: str) -> dict[str, Any]:
    """What stands in the file at `path`. Raises SettingsError with the place, what was found and what is `expected`;
    where there is no such file, with what is expected of an `absent` one.
    """
    content = _read(path, expected, absent)
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        found = f"found the byte 0x{content[error.start]:02X}, which is not UTF-8"
        raise SettingsError(f"{path}: line {line}: {found}, expected text saved as UTF-8") from None
    except RecursionError:
        raise SettingsError(f"{path}: found lists nested without end, expected plain sections") from None
    except ValueError as error:  # TOMLDecodeError, and a whole number of thousands of digits
        raise SettingsError(f"{path}: {_syntax_fault(str(error))}") from None


def _read(path: Path, expected: str, absent: str) -> bytes:
    try:
        if path.is_dir():
            raise SettingsError(f"{path}: found a directory, expected {expected}: name a file in it")
        if not path.exists():
            raise SettingsError(f"{path}: found no such file, expected {absent}")
        if not path.is_file() or path.stat().st_size > _LARGEST:
            raise SettingsError(f"{path}: found no plain file of at most {_LARGEST} bytes, expected {expected}")
        return path.read_bytes()
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SettingsError(f"{path}: cannot be read ({why}), expected a file this user may read") from None


def _syntax_fault(message: str) -> str:
    """The parser's message with the line in front.

    >>> _syntax_fault("Invalid value (at line 3, column 8)")
    'line 3, column 8: not TOML: invalid value; expected lines such as name = "Heron Lane"'
    """
    what, _, where = message.partition(" (at ")
    where = where.removesuffix(")") or "somewhere"
    return f'{where}: not TOML: {what[:1].lower()}{what[1:]}; expected lines such as name = "Heron Lane"'
