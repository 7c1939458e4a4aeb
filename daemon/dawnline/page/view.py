"""A view: a function from a request to an answer, and whether it changes something."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from starlette.responses import Response

from dawnline.page.ask import Ask, Go, Page

Answer: TypeAlias = Page | Go | Response


@dataclass(frozen=True, slots=True)
class View:
    """`posts`: it changes something, so it comes from a form of ours and from somebody who may."""

    look: Callable[[Ask], Answer]
    posts: bool = False
