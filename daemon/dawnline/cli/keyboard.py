"""Lines from the keeper while something else is watched; a pipe will do for a keyboard."""

from __future__ import annotations

import os
import select
import sys
from collections import deque


class Keyboard:
    """Reads standard input by its number, past Python's buffers, so that waiting has an end."""

    def __init__(self) -> None:
        self._fd = -1 if sys.stdin is None else sys.stdin.fileno()
        self._rest = b""
        self._lines: deque[str] = deque()
        self.ended = self._fd < 0  # standard input was closed

    def ask(self, prompt: str) -> str | None:
        """The next line, stripped; None where there is none any more."""
        print(prompt, end="", flush=True)
        while not self._lines and not self.ended:
            self._read(None)
        answer = self._lines.popleft() if self._lines else None
        if self.ended or not os.isatty(self._fd):
            print(flush=True)  # nobody has pressed Enter
        return answer

    def quits(self, wait_s: float) -> bool:
        """Whether `q` is the next line, waiting for one for at most `wait_s`; any other line stays where it is."""
        if self._lines or self.ended:
            select.select([], [], [], wait_s)
        else:
            self._read(wait_s)
        return bool(self._lines) and self._lines[0].lower() in ("q", "quit")

    def _read(self, wait_s: float | None) -> None:
        if not select.select([self._fd], [], [], wait_s)[0]:
            return
        data = os.read(self._fd, 4096)
        self.ended = not data
        *whole, self._rest = (self._rest + data).split(b"\n")
        if self.ended and self._rest:
            whole, self._rest = [self._rest], b""
        self._lines.extend(line.decode("utf-8", "replace").strip() for line in whole)
