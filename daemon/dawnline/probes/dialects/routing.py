"""Which of the probes on one port, or on one topic, a value belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

from dawnline.probes.dialects.fields import Fields, pick
from dawnline.probes.dialects.value import Refusal, Refused, Value, shown


class Route(NamedTuple):
    """One probe: the name of its value (`key`; the probe's own name where that is None) and of its time.

    `scale` makes what is sent a value in the unit of the probe's quantity.
    """

    probe: str
    key: str | None = None
    time_key: str | None = None
    scale: float = 1.0

    def value(self, found: Value) -> Value | Refused:
        """What was found, in the probe's unit; twelve digits are more than any device has, and 184 * 0.1 is 18.4."""
        if self.scale == 1.0:
            return found
        value = float(f"{found.value * self.scale:.12g}")
        if not isfinite(value):
            return Refused(Refusal.NOT_FINITE, shown(str(found.value)), found.key)
        return found._replace(value=value)

    @property
    def name(self) -> str:
        """The name that its values go by."""
        return self.key if self.key is not None else self.probe


@dataclass(frozen=True, slots=True)
class Routed:
    """`values` are (probe, value, sender's time or None); `unknown` are names that no probe claims."""

    values: tuple[tuple[str, float, int | None], ...]
    refused: tuple[Refused, ...]
    unknown: tuple[str, ...]


class Routing:
    """Shares the fields of a line or payload out among probes.

    A bare number belongs to the only probe, or to the only one without a `key`. A probe that a line does not
    mention is not missed, as long as the line mentions another one.
    """

    def __init__(self, routes: Sequence[Route]) -> None:
        self._routes = tuple(routes)
        keyless = [route for route in routes if route.key is None]
        self._bare = routes[0] if len(routes) == 1 else keyless[0] if len(keyless) == 1 else None
        self._claimed = {name for route in routes for name in (route.name, route.time_key)}

    def route(self, fields: Fields) -> Routed:
        """Every value that belongs to a probe, every refusal, every name nobody knows."""
        if None in fields:
            return self._route_bare(fields)
        values: list[tuple[str, float, int | None]] = []
        refused: list[Refused] = []
        for route in self._routes:
            if route.name not in fields:
                continue
            found = _picked(fields, route, route.name, route.time_key)
            if isinstance(found, Refused):
                refused.append(found)
            else:
                values.append((route.probe, found.value, found.at))
        if not values and not refused:
            refused.append(Refused(Refusal.NO_SUCH_KEY, shown(", ".join(name or "" for name in fields))))
        unknown: tuple[str, ...] = ()
        if not fields.keys() <= self._claimed:
            unknown = tuple(name for name in fields if name is not None and name not in self._claimed)
        return Routed(tuple(values), tuple(refused), unknown)

    def _route_bare(self, fields: Fields) -> Routed:
        if self._bare is None:
            return Routed((), (Refused(Refusal.BARE_NUMBER, shown(str(fields[None]))),), ())
        found = _picked(fields, self._bare, None, None)
        if isinstance(found, Refused):
            return Routed((), (found,), ())
        return Routed(((self._bare.probe, found.value, None),), (), ())


def _picked(fields: Fields, route: Route, key: str | None, time_key: str | None) -> Value | Refused:
    found = pick(fields, key, time_key)
    return found if isinstance(found, Refused) else route.value(found)
