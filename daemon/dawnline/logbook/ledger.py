"""The logbook as it stands: every entry about the pond with its corrections, out of the acts in the order they came.

An act is never overwritten. The last accepted word on an entry stands: a correction after a withdrawal brings it back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from dawnline.event import Act
from dawnline.logbook.acts import POND_KINDS, Correct, Record, Withdraw, read_kept
from dawnline.logbook.words import line
from dawnline.typed.quantity import Units


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry as it stands. `at` [ms] is what it is about, `act` as it was entered, `history` what was said later."""

    act: Act
    at: int
    entry: Record
    body: Mapping[str, Any]
    history: tuple[Act, ...] = ()
    withdrawn: bool = False

    @property
    def kind(self) -> str:
        """The kind of entry."""
        return self.act.kind

    def text(self, units: Units = "metric") -> str:
        """In a short line."""
        return line(self.kind, self.entry, units)


def about(entry: Any, at: int) -> int:
    """The time an entry is about [ms]: what it says itself, else when it was entered."""
    when = getattr(entry, "when", None)
    return at if when is None else int(when)


def ledger(acts: Iterable[Act]) -> list[LogEntry]:
    """The entries about the pond, withdrawn ones too, by the time they are about. `acts` are accepted ones, as they
    came; one of another version of the program is passed over.
    """
    found: dict[str, LogEntry] = {}
    for act in acts:
        match entry := read_kept(act):
            case Record():
                found[act.id] = LogEntry(act, about(entry, act.at), entry, act.body)
            case Correct() if entry.entry in found:
                before, now = found[entry.entry], entry.corrected
                found[entry.entry] = replace(
                    before, at=about(now, before.act.at), entry=now, body=entry.body,
                    history=(*before.history, act), withdrawn=False,
                )  # fmt: skip
            case Withdraw() if entry.entry in found:
                before = found[entry.entry]
                found[entry.entry] = replace(before, history=(*before.history, act), withdrawn=True)
    return sorted(found.values(), key=lambda each: each.at)


def standing(acts: Iterable[Act]) -> list[Act]:
    """The acts as they stand, by time: corrected ones as corrected and at the time they are about, none withdrawn."""
    came = list(acts)
    kept = [act for act in came if act.kind not in POND_KINDS and act.kind not in ("correct", "withdraw")]
    kept += [replace(each.act, at=each.at, body=each.body) for each in ledger(came) if not each.withdrawn]
    return sorted(kept, key=lambda act: act.at)
