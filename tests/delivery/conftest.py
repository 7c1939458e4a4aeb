"""A letter to send, and a web receiver on this machine that answers as a test tells it to."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from dawnline.letter import Letter

from ..web import Handler, serving

Answer = Callable[[Handler], None]


@pytest.fixture
def letter() -> Letter:
    return Letter(
        key="ph-low/1780000000000/raised/Ada/mailto:ada@example.org",
        at=1_780_000_000_000,
        episode=7,
        person="Ada",
        address="mailto:ada@example.org",
        priority="high",
        subject="Heron Lane: pH 6.4 and falling",
        text="Look: are fish gasping at the surface?\nAir first.",
    )


@dataclass
class Receiver:
    """`answer` is called for each POST, once its body is read; `got` holds (path, headers, body)."""

    url: str = ""
    answer: Answer = field(default=lambda request: request.answer(200))
    got: list[tuple[str, dict[str, str], Any]] = field(default_factory=list)


@pytest.fixture
def answer_with() -> Callable[..., Answer]:
    """answer_with(429, b"slow down", Retry_After="120") -> an answer for the receiver."""
    return lambda status, body=b"", **headers: lambda request: request.answer(status, body, **headers)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    state = Receiver()

    class Asked(Handler):
        def asked(self) -> None:
            state.got.append((self.path, dict(self.headers), json.loads(self.body())))
            state.answer(self)

    with serving(Asked) as url:
        state.url = url
        yield state
