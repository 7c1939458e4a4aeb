"""`dawnline alarms explain`: what an alarm means and what to do, in the words of its messages."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from dawnline.alarms.catalogue import Alarm
from dawnline.alarms.ledger import overridden
from dawnline.alarms.text import response
from dawnline.cli.alarm_row import alarm_row
from dawnline.duration import show_duration
from dawnline.errors import InputError, SettingsError
from dawnline.queries.present import find_present
from dawnline.settings import Settings
from dawnline.settings_errors import nearest

WIDE = 100  # columns


def explain(settings: Settings, which: str) -> int:
    """Explain the alarm of this name, or the open one of this number. Raises SettingsError, InputError for no such."""
    name, probe = which, None
    if which.isdecimal():
        row = next((row for row in find_present(settings).data["alarms"] if row["id"] == int(which)), None)
        if row is None:
            raise InputError(f"there is no open alarm {which}; `dawnline alarms list` shows those there are")
        name, probe = row["alarm"], row["probe"]
        print(alarm_row(row), end="\n\n")
    if name not in settings.catalogue:
        raise SettingsError(f"no alarm is named {name!r}: {nearest(name, list(settings.catalogue))}")
    alarm = overridden(settings.catalogue[name], settings.alarms.get(name))
    term = f" (in the trade: {alarm.term})" if alarm.term and alarm.term.lower() != alarm.title.lower() else ""
    print(
        f"{name}: {alarm.title}{term}",
        _rules(alarm),
        "",
        *_folded(response(settings.catalogue, alarm, probe)),
        sep="\n",
    )
    return 0


def _rules(alarm: Alarm) -> str:
    """How it is raised and when it is over."""
    raised = f"raised after {show_duration(alarm.on_delay)}" if alarm.on_delay else "raised at once"
    over = f"over after {show_duration(alarm.off_delay)}" if alarm.off_delay else "over at once"
    band = f", beyond a deadband of {alarm.deadband:g}" if alarm.deadband else ""
    return f"{alarm.priority} priority; {raised}, {over}{band}"


def _folded(lines: Sequence[str]) -> list[str]:
    """Long lines folded for a terminal, list items hanging."""
    return [fill(line, WIDE, break_on_hyphens=False, subsequent_indent=" " * _indent(line)) for line in lines]


def _indent(line: str) -> int:
    head = line.lstrip()
    item = head[:2] == "- " or head.partition(". ")[0].isdecimal()
    return len(line) - len(head) + head.index(" ") + 1 if item else 0
