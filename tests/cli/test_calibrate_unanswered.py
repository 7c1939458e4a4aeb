"""A service that is there and does not answer: what was asked of it is queued, and that is what is said."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import pytest

from dawnline.cli import ask
from dawnline.service.now_file import NowFile
from dawnline.store.inbox import Inbox
from dawnline.store.store import Store


def test_a_calibration_that_nobody_answers_is_queued_and_not_refused(
    folder: Path, call: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ask, "WAIT_S", 0.2)
    with Store.open(folder / "pond.db", [("ph", "ph"), ("water", "temperature")]):
        present = {"pid": os.getpid(), "written_at": time.time(), "started_at": time.time()}
        held = {"quantity": "ph", "calibration": {"time": None, "slope": 1.0, "offset": 0.0}}
        NowFile(Path("pond.db")).write({**present, "probes": {"ph": held}})
        with Path(os.devnull).open(encoding="utf-8") as nobody:
            monkeypatch.setattr("sys.stdin", nobody)
            found = call("probes", "calibrate", "ph", "--buffers", "7", "--for", "20m")
    assert found.status == 1
    assert "refused" not in found.out + found.err
    assert found.err.startswith("queued: the service has not answered within 0 s; it takes this as soon as it can")
    assert "ph is then out of service for 20m and comes back by itself" in found.err
    with Inbox.open(folder / "pond.inbox.db") as inbox:
        assert [act.kind for act in inbox.pending()] == ["calibration"]
