"""A memory card that fails as cards do: a small ext4 file system in an image, mounted through the loop device.

A power cut is ext4's own shutdown (`EXT4_IOC_SHUTDOWN` without flushing its log): what was not synchronised is dropped,
as the tests of Linux's file systems do it. An error turns it read-only, as `errors=remount-ro` does on a board. Refused
writes are the immutable flag on the files, which can be taken back. All of it needs root.
"""

from __future__ import annotations

import ctypes
import fcntl
import os
import struct
import subprocess
import time
from contextlib import suppress
from pathlib import Path

MB = 1 << 20
_SHUTDOWN, _NO_LOG_FLUSH = 0x8004587D, 2  # _IOR('X', 125, __u32), Linux fs/ext4
_GET_FLAGS, _SET_FLAGS, _IMMUTABLE = 0x80086601, 0x40086602, 0x10  # ioctl_iflags(2)


class Card:
    """Mounted at `path`. Raises OSError where this may not be done here."""

    def __init__(self, folder: Path, size_mb: int) -> None:
        self.image, self.path, self.device = folder / "card.img", folder / "card", ""
        with self.image.open("wb") as file:
            file.truncate(size_mb * MB)
        self.path.mkdir()
        _run("mkfs.ext4", "-q", "-m", "0", "-F", str(self.image))
        self.insert()

    def insert(self) -> None:
        """Mount it; its log is replayed."""
        _run("mount", "-o", "loop,noatime,errors=remount-ro", str(self.image), str(self.path))
        mounts = Path("/proc/mounts").read_text(encoding="utf-8").splitlines()
        self.device = next(Path(row.split()[0]).name for row in mounts if row.split()[1] == str(self.path))

    def remove(self) -> None:
        """Unmount it; nobody may have a file of it open."""
        for _ in range(100):
            done = subprocess.run(["umount", str(self.path)], capture_output=True, check=False)
            if done.returncode == 0:
                return
            time.sleep(0.05)
        subprocess.run(["umount", "-l", str(self.path)], check=False)
        raise OSError(f"{self.path}: {done.stderr!r}")

    def cut(self) -> None:
        """The power goes: from now on nothing is read or written, and what was not synchronised is gone."""
        handle = os.open(self.path, os.O_RDONLY)
        try:
            fcntl.ioctl(handle, _SHUTDOWN, struct.pack("I", _NO_LOG_FLUSH))
        finally:
            os.close(handle)

    def fail(self) -> None:
        """An error: it is read-only until it is checked."""
        Path("/sys/fs/ext4", self.device, "trigger_fs_error").write_text("soak", encoding="ascii")

    def mend(self) -> None:
        """Out, checked, in again. Nobody may have a file of it open."""
        self.remove()
        subprocess.run(["e2fsck", "-fy", str(self.image)], capture_output=True, check=False)
        self.insert()

    def fill(self) -> None:
        """Leave no room."""
        with (self.path / "photographs").open("wb", buffering=0) as file:
            for size in (MB, 1 << 14, 1 << 10):
                with suppress(OSError):
                    while True:
                        file.write(b"\xff" * size)
            with suppress(OSError):
                os.fsync(file.fileno())

    def clear(self) -> None:
        """Make room."""
        (self.path / "photographs").unlink(missing_ok=True)

    def refuse(self, on: bool) -> None:
        """Refuse to write to any file there is, or no longer."""
        for each in self.path.glob("pond*[!m]"):  # not the shared memory of SQLite: that is mapped, not written
            with suppress(OSError):
                handle = os.open(each, os.O_RDONLY)
                try:
                    flags = ctypes.c_long()
                    fcntl.ioctl(handle, _GET_FLAGS, flags)
                    flags.value = flags.value | _IMMUTABLE if on else flags.value & ~_IMMUTABLE
                    fcntl.ioctl(handle, _SET_FLAGS, flags)
                finally:
                    os.close(handle)


def possible() -> bool:
    """Whether this may be tried here."""
    return os.geteuid() == 0 and Path("/dev/loop-control").exists()


def _run(*words: str) -> None:
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise OSError(f"{' '.join(words)}: {done.stderr.strip()}")
