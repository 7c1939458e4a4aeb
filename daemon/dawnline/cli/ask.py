"""Asking the service to do something: the act goes into the inbox, its verdict comes back."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Mapping
from typing import Any, Final

from dawnline.errors import InputError
from dawnline.logbook.acts import read
from dawnline.settings import Settings
from dawnline.store.inbox import Inbox, inbox_path

WAIT_S: Final = 5.0


def ask(settings: Settings, kind: str, body: Mapping[str, Any]) -> int:
    """Submit one act and say its verdict: 0 accepted; 1 refused, or queued because the service does not answer."""
    read(kind, body)  # what can be refused at once is refused here, and queues nothing
    path = inbox_path(settings.store.path)
    if not settings.store.path.exists():
        raise InputError(f"{settings.store.path}: there is no store yet; start the service with `dawnline run`")
    with Inbox.open(path) as inbox:
        act_id = inbox.submit(kind, dict(body), _actor())
        verdict = inbox.wait(act_id, WAIT_S)
    if verdict is None:
        print("queued: the service is not running; it will take this when it starts", file=sys.stderr)
        return 1
    accepted, text = verdict
    print(text if accepted else f"refused: {text}", file=sys.stdout if accepted else sys.stderr)
    return 0 if accepted else 1


def _actor() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "command line"
