"""One finding of `dawnline check`."""

from __future__ import annotations

from typing import NamedTuple


class Line(NamedTuple):
    """What was looked at, whether it is well (None for a remark), and what to do."""

    what: str
    well: bool | None
    text: str
