"""The report of a week for a letter, drawn by `dawnline review` in a process of its own.

Reading a week takes a moment and some memory: neither belongs to the watch. The process ends with its report.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import date
from pathlib import Path
from threading import Lock, Timer
from typing import Final

import structlog

from dawnline.delivery.report import Report

LONGEST_S: Final = 100.0  # machine time; a week of a five-year store takes a second or two on a board
NICE: Final = 10  # whatever else the board does comes first
_WHY: Final = 300  # characters
_DRAWING: Final = Lock()

_log = structlog.get_logger(__name__)


class WeekDrawn:
    """Draws on the thread that asks for it, one report at a time for all ponds of this process. `file` is where it lies
    until it is read.
    """

    def __init__(self, config: Path, file: Path, words: Mapping[str, str]) -> None:
        self._config, self._file, self._words = config, file, words
        self._process: subprocess.Popen[str] | None = None
        self._over = False

    def __call__(self, first: date, last: date) -> Report:
        """The report of these days; where it cannot be drawn, why, and how to have it all the same."""
        with _DRAWING:
            try:
                said, page = self._drawn(first, last)
            except (OSError, ValueError) as error:
                why = str(error)[:_WHY]
                _log.error("week-not-drawn", first=str(first), last=str(last), why=why)
                return Report(self._words["weekly_without"].format(why=why, first=first, last=last))
            finally:
                with suppress(OSError):
                    self._file.unlink(missing_ok=True)
        return Report("\n".join(f"- {each}" for each in said), f"week-{last}.html", page)

    def stop(self) -> None:
        """The service ends: a report under way is given up; its letter is tried again after the next start."""
        self._over = True
        if self._process is not None:
            self._process.kill()

    def _drawn(self, first: date, last: date) -> tuple[list[str], bytes]:
        """Sentences and file. Raises OSError or ValueError with the reason in words."""
        command = [sys.executable, "-m", "dawnline.cli", "--config", str(self._config), "review",
                   "--from", str(first), "--to", str(last), "--html", str(self._file), "--json"]  # fmt: skip
        if self._over:
            raise ValueError("the service is stopping")
        with subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            encoding="utf-8", errors="replace",
        ) as process:  # fmt: skip
            self._process = process
            with suppress(OSError):  # where the unit forbids it, it is drawn at the watch's own priority
                os.setpriority(os.PRIO_PROCESS, process.pid, NICE)
            overdue = Timer(LONGEST_S, process.kill)
            overdue.daemon = True
            overdue.start()
            assert process.stdout is not None
            said, other = _sentences(process.stdout)
            status = process.wait()
            overdue.cancel()
            self._process = None
        if status < 0:
            raise ValueError(f"it took longer than {LONGEST_S:g} s" if not self._over else "the service is stopping")
        if status:
            raise ValueError(other or f"`dawnline review` ended with {status}")
        return said, self._file.read_bytes()


def _sentences(lines: Iterable[str]) -> tuple[list[str], str]:
    """What `review --json` says in sentences, and its last line that is no JSON."""
    said, other = [], ""
    for line in lines:
        if not line.startswith("{"):
            other = line.strip() or other
        elif '"event": "sentence"' in line:
            said.append(str(json.loads(line)["text"]))
    return said, other
