"""`now.json`: the present, written by the service for the command line and the page, never to the card.

It lives in the runtime directory (memory on most systems): $RUNTIME_DIRECTORY as systemd gives it, else
/run/dawnline where it can be written, else $XDG_RUNTIME_DIR, else a private folder for temporary files.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from dawnline.errors import StoreError
from dawnline.service.clock import wall_s

STALE_S = 15.0  # the service writes once a second
LARGEST_PID = 1 << 22  # PID_MAX_LIMIT of Linux, proc(5)


def folders() -> list[Path]:
    """Where `now.json` may be, best first."""
    found = [Path(part) for part in os.environ.get("RUNTIME_DIRECTORY", "").split(":") if part]
    found.append(Path("/run/dawnline"))
    if "XDG_RUNTIME_DIR" in os.environ:
        found.append(Path(os.environ["XDG_RUNTIME_DIR"]) / "dawnline")
    found.append(Path(tempfile.gettempdir()) / f"dawnline-{os.getuid()}")
    return found


def file_name(store: Path) -> str:
    """The file of one pond, named after its store."""
    mark = hashlib.blake2b(str(store.resolve()).encode(), digest_size=4).hexdigest()
    return f"{store.stem}-{mark}.now.json"


class NowFile:
    """Writes the present atomically."""

    def __init__(self, store: Path) -> None:
        self.path = _writable_folder() / file_name(store)
        self._failing = False

    def write(self, data: dict[str, Any]) -> None:
        """Replace the file; a reader sees the old or the new one, whole.

        Where it cannot be written (a folder swept away, memory full) the watch goes on without: that is logged once.
        """
        draft = self.path.with_suffix(f".{os.getpid()}.tmp")
        try:
            self.path.parent.mkdir(mode=0o700, exist_ok=True)
            draft.write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
            draft.replace(self.path)
        except OSError as error:
            if not self._failing:
                import structlog  # here: `status` reads with this file, and starts faster without

                structlog.get_logger(__name__).error("present-not-written", file=str(self.path), why=error.strerror)
            self._failing = True
        else:
            self._failing = False

    def remove(self) -> None:
        """The service has stopped."""
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def read(store: Path) -> dict[str, Any] | None:
    """The newest present of this store, or None where no service wrote one that can be read."""
    newest: tuple[float, dict[str, Any]] | None = None
    for folder in folders():
        path = folder / file_name(store)
        try:
            if path.stat().st_uid not in (0, os.getuid(), _owner(store)):
                continue
            data = json.loads(path.read_text(encoding="utf-8"))
            written, pid = float(data["written_at"]), data["pid"]
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            continue
        if not isinstance(pid, int) or not 0 < pid < LARGEST_PID:
            continue
        if newest is None or written > newest[0]:
            newest = (written, data)
    return newest[1] if newest else None


def is_current(data: dict[str, Any]) -> bool:
    """Whether the service that wrote this present is still there."""
    try:
        os.kill(data["pid"], 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        pass  # it is there, and another user's
    return wall_s() - float(data["written_at"]) <= STALE_S


def serves(store: Path) -> bool:
    """Whether a service watches this store now."""
    data = read(store)
    return data is not None and is_current(data)


def _owner(store: Path) -> int:
    try:
        return store.stat().st_uid
    except OSError:
        return -1


def _writable_folder() -> Path:
    for folder in folders():
        try:
            folder.mkdir(mode=0o755 if folder.parent == Path("/run") else 0o700, exist_ok=True)
            if os.access(folder, os.W_OK) and folder.stat().st_uid in (0, os.getuid()):
                return folder
        except OSError:
            continue
    raise StoreError("no runtime directory can be written; set RUNTIME_DIRECTORY to a folder of the service's own")
