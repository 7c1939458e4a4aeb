"""A file of acts for replay: one JSON object a line, `{"time": T, "act": KIND, ...}`."""

from __future__ import annotations

import json
from datetime import tzinfo
from pathlib import Path
from typing import Any, Final

from dawnline.cli.in_file import text_of
from dawnline.duration import END_MS, parse_time
from dawnline.errors import InputError
from dawnline.event import Act
from dawnline.logbook.settle import Habits, settle
from dawnline.recording import RowProblem

LONGEST_ID: Final = 200


def read_acts(path: Path, zone: tzinfo) -> tuple[list[Act], list[RowProblem]]:
    """The acts in order of time, and the lines that are none. An act's id is its `act_id`, else "FILE:LINE".

    Raises SettingsError for a file that cannot be read.
    """
    acts, problems = [], []
    for number, row in enumerate(text_of(path, "JSON lines of acts").split("\n"), 1):
        if not row.strip():
            continue
        try:
            acts.append(_act(f"{path.name}:{number}", row, zone))
        except (ValueError, OverflowError) as error:
            problems.append(RowProblem(number, f"{path.name}, line {number}: found {row.strip()[:60]!r}: {error}"))
    return sorted(acts, key=lambda act: act.at), problems


def _act(act_id: str, row: str, zone: tzinfo) -> Act:
    """The act of one line. Raises ValueError with what was expected."""
    body = _object(row)
    time, kind, by = (body.pop(key, "") for key in ("time", "act", "by"))
    for key, value in (("time", time), ("act", kind)):
        if not isinstance(value, str) or not value:
            raise ValueError(f"expected a text under {key!r}")
    at = parse_time(time, zone)
    if not 0 <= at < END_MS:
        raise ValueError("expected a time from 1970 to 2100")
    act_id = str(body.pop("act_id", act_id))[:LONGEST_ID]
    try:
        kind, body = settle(kind, body, Habits(zone))
    except InputError as error:
        raise ValueError(str(error)) from None
    return Act(act_id, at, kind, body, str(by)[:80])


def _object(row: str) -> dict[str, Any]:
    try:
        found = json.loads(row)
    except (ValueError, RecursionError):
        found = None
    if isinstance(found, dict):
        return found
    raise ValueError('expected one JSON object, {"time": ..., "act": KIND, ...}')
