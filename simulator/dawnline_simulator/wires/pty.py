"""A serial port that is none: a pseudo-terminal under a name of the caller's choice."""

from __future__ import annotations

import os
import select
import tty
from contextlib import suppress
from pathlib import Path


class Port:
    """A pseudo-terminal whose far end is found at `link`, a symbolic link made anew at each `plug`.

    Nothing here waits: what nobody reads is dropped, as on a cable that ends in the air. Raises OSError
    where the link cannot be made.
    """

    def __init__(self, link: Path) -> None:
        self._link = link
        self._master: int | None = None
        self._rest = b""

    def plug(self) -> None:
        """Make the port appear, in raw mode; nothing if it is there already."""
        if self._master is not None:
            return
        if self._link.exists() and not self._link.is_symlink():
            raise FileExistsError(f"{self._link} exists and is no symbolic link; choose another name")
        master, slave = os.openpty()
        try:
            tty.setraw(slave)
            os.set_blocking(master, False)
            name = os.ttyname(slave)
            fresh = self._link.with_name(self._link.name + ".new")
            fresh.unlink(missing_ok=True)
            fresh.symlink_to(name)
            fresh.replace(self._link)
        except OSError as error:
            os.close(master)
            raise OSError(f"{self._link} cannot be made: {error.strerror}; is its folder there?") from None
        finally:
            # With no far end of ours open, the terminal tells us when nobody listens: nothing stale piles up.
            os.close(slave)
        self._master, self._rest = master, b""

    def unplug(self) -> None:
        """Make the port go away: readers get a hang-up, the link disappears."""
        if self._master is not None:
            os.close(self._master)
            self._master = None
            with suppress(OSError):
                self._link.unlink()

    def write(self, data: bytes) -> bool:
        """Send the bytes, whole or not at all; False if nobody took them."""
        if self._master is None:
            return False
        if not self._listened():
            self._rest = b""
            return False
        if self._rest and not self._send(b""):
            return False
        return self._send(data)

    def read(self, seconds: float) -> bytes:
        """What the far end has sent, at most 4096 bytes; waits for it so many machine seconds."""
        if self._master is None or not self._listened() or not select.select([self._master], [], [], seconds)[0]:
            return b""
        try:
            return os.read(self._master, 4096)
        except OSError:  # closed between the question and the reading
            return b""

    def _listened(self) -> bool:
        """Has somebody the far end open?"""
        assert self._master is not None
        poll = select.poll()
        poll.register(self._master, select.POLLOUT)
        return not any(state & select.POLLHUP for _, state in poll.poll(0))

    def _send(self, data: bytes) -> bool:
        """Send what was left of the last line, then `data`; a line cut by a full buffer is finished later."""
        assert self._master is not None
        waiting = self._rest + data
        try:
            sent = os.write(self._master, waiting)
        except BlockingIOError:
            return False
        except OSError:  # closed between the question and the writing
            self._rest = b""
            return False
        self._rest = waiting[sent:]
        return not self._rest or bool(data)
