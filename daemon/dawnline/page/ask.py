"""One request as the views see it, and what they may answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from dawnline.electrode.walk import Walk
from dawnline.page.doors import Doors
from dawnline.page.session import Who


@dataclass(frozen=True, slots=True)
class Ask:
    """What somebody wants: `form` is empty for a GET. `token` goes into every form on the page; `walks` are the
    calibrations under way, by probe."""

    doors: Doors
    who: Who
    token: str
    path: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    form: Mapping[str, str] = field(default_factory=dict)
    walks: dict[str, Walk] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Page:
    """A template and what it shows."""

    template: str
    data: Mapping[str, Any] = field(default_factory=dict)
    status: int = 200


@dataclass(frozen=True, slots=True)
class Go:
    """Go on to another page, which says `said` on top; `well` is false where something was refused."""

    to: str
    said: str = ""
    well: bool = True
