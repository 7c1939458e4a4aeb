"""One request as the views see it, and what they may answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from dawnline.electrode.walk import Walk
from dawnline.page.doors import Doors
from dawnline.page.session import Who
from dawnline.page.words import sentence


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

    def put(self, kind: str, body: Mapping[str, Any]) -> tuple[bool, str] | None:
        """Ask the service in the name of whoever is signed in; None where it has not answered. Raises InputError."""
        return self.doors.put(kind, body, f"{self.who.name} (page)" if self.who.name else "page")


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


def said(verdict: tuple[bool, str] | None, to: str) -> Go:
    """Go on with what the service said to an act."""
    if verdict is None:
        return Go(to, "Written down. The service has not answered yet; it takes this as soon as it can.")
    well, text = verdict
    return Go(to, sentence(text) if well else f"Refused: {text}", well=well)
