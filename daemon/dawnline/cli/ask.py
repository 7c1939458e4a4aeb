"""Asking the service to do something, for commands and page: the act goes into the inbox, its verdict comes back."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Mapping
from typing import Any, Final

from dawnline.duration import iso
from dawnline.errors import InputError, SettingsError
from dawnline.logbook.acts import POND_KINDS, read
from dawnline.logbook.words import line
from dawnline.service import now_file
from dawnline.service.clock import from_environment
from dawnline.settings import Settings
from dawnline.store.inbox import Inbox, inbox_path

WAIT_S: Final = 5.0


def ask(settings: Settings, kind: str, body: Mapping[str, Any], head: str = "") -> int:
    """Submit one act and say its verdict, after `head`: 0 accepted; 1 refused, or queued: the service does not answer.

    Raises SettingsError for an act that no service would take, InputError where there is no store.
    """
    verdict = put(settings, kind, body)
    if verdict is None:
        what = f": {line(kind, read(kind, body), settings.pond.units)}" if kind in POND_KINDS else ""
        print(f"{head}{unanswered(settings)}{what}", file=sys.stderr)
        return 1
    accepted, text = verdict
    print(f"{head}{text}" if accepted else f"{head}refused: {text}", file=sys.stdout if accepted else sys.stderr)
    return 0 if accepted else 1


def unanswered(settings: Settings) -> str:
    """What is to be said of an act without a verdict."""
    running = now_file.serves(settings.store.path)
    why = f"has not answered within {WAIT_S:.0f} s" if running else "is not running"
    return f"queued: the service {why}; it takes this as soon as it can"


def put(settings: Settings, kind: str, body: Mapping[str, Any], *, by: str = "") -> tuple[bool, str] | None:
    """Submit one act; gives its verdict, or None where the service has not answered in time. Raises as `ask`.

    What nobody is there to take counts from now, and not from when it is taken.
    """
    _check(settings, kind, body)
    if not settings.store.path.exists():
        raise InputError(f"{settings.store.path}: there is no store yet; start the service with `dawnline run`")
    if kind in POND_KINDS and not now_file.serves(settings.store.path):
        body = {"when": iso(from_environment().now(), settings.pond.zone), **body}
    with Inbox.open(inbox_path(settings.store.path)) as inbox:
        act_id = inbox.submit(kind, body, by or actor())
        return inbox.wait(act_id, WAIT_S)


def _check(settings: Settings, kind: str, body: Mapping[str, Any]) -> None:
    """What can be refused at once is refused here, and queues nothing. Raises SettingsError."""
    try:
        entry = read(kind, body)
    except InputError as error:
        raise SettingsError(str(error)) from None
    probe, names = getattr(entry, "probe", None), [probe.name for probe in settings.probes]
    if probe is not None and probe not in names:
        raise SettingsError(f"{kind}: no probe is named {probe!r}; there are: {', '.join(names)}")


def actor() -> str:
    """Who asks."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "command line"
