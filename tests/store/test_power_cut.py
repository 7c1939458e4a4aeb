"""An act that was handed in is there after the power was cut: on a small file system of its own, as root."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from dawnline.store.inbox import Inbox

HAND_IN = """
import os, sys
from pathlib import Path
sys.path.insert(0, {folder!r})
from card import Card
from dawnline.store.inbox import Inbox
with Inbox.open(Path({inbox!r})) as inbox:
    inbox.submit("note", {{"text": "hello"}}, "ada")
    card = object.__new__(Card)
    card.path = Path({inbox!r}).parent
    card.cut()
    os._exit(0)
"""


@pytest.fixture
def card(script: Callable[[str], ModuleType], tmp_path: Path) -> Iterator[Any]:
    if not script("card").possible():
        pytest.skip("cannot mount a small file system here: run as root")
    try:
        made = script("card").Card(tmp_path, 16)
    except OSError as error:
        pytest.skip(f"cannot mount a small file system here: {error}")
    yield made
    made.remove()


def test_an_act_handed_in_outlives_a_power_cut(card: Any) -> None:
    inbox = card.path / "pond.inbox.db"
    folder = str(Path(__file__).parents[1] / "benchmarks")
    for number in (1, 2, 3):
        words = [sys.executable, "-c", HAND_IN.format(folder=folder, inbox=str(inbox))]
        subprocess.run(words, check=True, env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})
        card.remove()
        card.insert()
        with Inbox.open(inbox) as opened:
            assert len(opened.pending()) == number
