"""`dawnline probes calibrate NAME` and `probes check NAME`: leads through buffer solutions at the terminal.

Takes the probe out of service first; whatever happens here, it comes back into service by itself.
"""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Mapping
from typing import Any

from dawnline.cli.ask import put, unanswered
from dawnline.cli.ph_probe import ph_probe
from dawnline.cli.probes_walk import Stopped, WalkTerminal
from dawnline.duration import MINUTE_MS
from dawnline.electrode.buffers import Buffer, find_buffers
from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.walk import BACK_NOW, Step, Walk
from dawnline.errors import InputError, SettingsError
from dawnline.settings import Settings


def calibrate(settings: Settings, args: argparse.Namespace) -> int:
    """Run it: 0 where a calibration is in force now, or a check is noted; 1 where nothing has changed."""
    adjust = args.what == "calibrate"
    probe = ph_probe(settings, args.name)
    try:
        buffers = _buffers(settings, args.buffers if adjust else args.buffer)
        walk = Walk(probe.name, IDEAL[probe.quantity], buffers, adjust=adjust)
    except InputError as error:
        raise SettingsError(f"--buffer{'s' if adjust else ''}: {error}") from None
    terminal = WalkTerminal(settings, probe)
    walk.before, walk.every = terminal.calibration()
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.default_int_handler)
    return _Way(settings, terminal, walk).go(args.lasting or f"{walk.lasts // MINUTE_MS}m")


def _buffers(settings: Settings, words: str) -> list[Buffer]:
    own = [each.buffer for each in settings.buffers]
    return find_buffers(words, own)


class _Way:
    """One walk through the buffers; `changed` once the service has taken its outcome, `queued` where it may still."""

    def __init__(self, settings: Settings, terminal: WalkTerminal, walk: Walk) -> None:
        self.settings, self.terminal, self.walk = settings, terminal, walk
        self.changed = self.queued = False

    def go(self, lasting: str) -> int:
        """Take the probe out, lead, and give it back, whatever ends it."""
        walk = self.walk
        try:
            verdict = self._put("calibration", {"probe": walk.probe, "for": lasting, "outcome": True})
            if verdict is None:
                print(f"{unanswered(self.settings)}. {walk.probe} is then out of service for {lasting} and comes back "
                      "by itself. Begin again once the service answers.", file=sys.stderr)  # fmt: skip
                return 1
            accepted, text = verdict
            if not accepted:
                print(f"refused: {text}", file=sys.stderr)
                return 1
            print(f"{walk.probe} is out of service for {lasting} and comes back by itself. q or Ctrl-C stops.")
            self._lead()
            ending = ""
        except Stopped as why:
            ending = f"\nstopped{f': {why}' if str(why) else ''}.\n"
        except KeyboardInterrupt:
            ending = "\nstopped.\n"
        except OSError as error:  # such as a terminal that is gone
            ending = f"\nstopped: {error.strerror or error}.\n"
        walk.stop()
        verdict = self._put("return", {"probe": walk.probe})  # before a word: a lost terminal takes none
        ending += "" if self.changed or self.queued else "Nothing has been changed. "
        stopped = f". {BACK_NOW}" if ending.startswith("\nstopped") and (verdict is None or verdict[0]) else ""
        print(
            f"{ending}{walk.probe}: {unanswered(self.settings) if verdict is None else verdict[1]}{stopped}", flush=True
        )
        return 0 if self.changed else 1

    def _lead(self) -> None:
        walk, terminal = self.walk, self.terminal
        while walk.step in (Step.IMMERSE, Step.SETTLE):
            terminal.immerse(walk)
            terminal.settle(walk)
        if walk.step is Step.DECIDE:
            terminal.decide(walk)
        outcome = walk.outcome()
        if outcome is not None:
            verdict = self._put(*outcome)
            if verdict is None:
                self.queued, text = True, unanswered(self.settings)
            else:
                self.changed, text = verdict
            print(text if self.changed or self.queued else f"refused: {text}", flush=True)
        terminal.replace()

    def _put(self, kind: str, body: Mapping[str, Any]) -> tuple[bool, str] | None:
        return put(self.settings, kind, body)
