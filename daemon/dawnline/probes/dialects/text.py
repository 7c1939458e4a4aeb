r"""The serial text link: one reading a line.

ASCII, at most 256 bytes a line, ended by `\n` or `\r\n` (a lone `\r`, which some devices send, ends a line
too). A line is one of

    7.12                            a bare number
    ph=7.12 temp=18.4               name=value pairs between spaces, commas or semicolons
    {"ph": 7.12, "temp": 18.4}      a JSON object

A value that is no number costs only itself ("ph=nan temp=18.4"); a line whose shape is broken is refused
whole, as there is no check sum to say which part of it survived.
"""

from __future__ import annotations

import re

from dawnline.probes.dialects.fields import Fields, bare_field, json_fields
from dawnline.probes.dialects.value import Refusal, Refused, shown

MAX_LINE_BYTES = 256

_END = re.compile(rb"[\r\n]")
_BETWEEN = re.compile(r"[ \t,;]+")
_PAIR = re.compile(r"([A-Za-z_][A-Za-z0-9_./-]*)=([^=]*)")
# "ph=7,12" split at its comma would read as pH 7.
_DECIMAL_COMMA = re.compile(r"=[+-]?[0-9]*,[0-9]+(?:[ \t,;]|$)")


class Splitter:
    """Cuts bytes into lines, however they arrive. A line is given out only once its end has come.

    `mid_line` says that the first bytes may be the end of a line whose beginning nobody saw: "17.12" may
    arrive as "7.12". They are then refused as cut short, up to the first line end.
    """

    def __init__(self, *, mid_line: bool = False) -> None:
        self._buffer = bytearray()
        self._cut = mid_line
        self._overlong = False

    def feed(self, chunk: bytes) -> list[bytes | Refused]:
        """The lines that `chunk` ends, without their ends; empty lines are left out."""
        found: list[bytes | Refused] = []
        *ended, rest = _END.split(chunk)
        for part in ended:
            self._append(part, found)
            self._end(found)
        self._append(rest, found)
        return found

    def close(self) -> Refused | None:
        """Give up the unfinished line, as when the port is gone."""
        left, self._buffer, self._overlong = bytes(self._buffer), bytearray(), False
        return Refused(Refusal.CUT, shown(left)) if left else None

    def _append(self, part: bytes, found: list[bytes | Refused]) -> None:
        if self._overlong:
            return
        self._buffer += part[: MAX_LINE_BYTES + 1]
        if len(self._buffer) > MAX_LINE_BYTES:
            found.append(Refused(Refusal.TOO_LONG, shown(bytes(self._buffer))))
            self._buffer.clear()
            self._overlong = True

    def _end(self, found: list[bytes | Refused]) -> None:
        line = bytes(self._buffer)
        self._buffer.clear()
        if self._cut and line:
            found.append(Refused(Refusal.CUT, shown(line)))
        elif line.strip():
            found.append(line)
        self._cut = self._overlong = False


def read_line(line: bytes) -> Fields | Refused:
    """The fields of one line, or why it has none.

    >>> read_line(b"ph=7.12; temp=18.4")
    {'ph': '7.12', 'temp': '18.4'}
    """
    if len(line) > MAX_LINE_BYTES:
        return Refused(Refusal.TOO_LONG, shown(line))
    try:
        text = line.decode("ascii").strip(" \t\r\n")
    except UnicodeDecodeError:
        return Refused(Refusal.NOT_ASCII, shown(line))
    if not text:
        return Refused(Refusal.EMPTY, "")
    fields = json_fields(text) if text.startswith("{") else _pairs(text) if "=" in text else bare_field(text)
    return Refused(fields, shown(line)) if isinstance(fields, Refusal) else fields


def _pairs(text: str) -> Fields | Refusal:
    if _DECIMAL_COMMA.search(text):
        return Refusal.DECIMAL_COMMA
    fields: dict[str | None, object] = {}
    for token in _BETWEEN.split(text.strip(" \t,;")):
        pair = _PAIR.fullmatch(token)
        if pair is None:
            return Refusal.NOT_A_PAIR
        if pair[1] in fields:
            return Refusal.DUPLICATE_KEY
        fields[pair[1]] = pair[2]
    return fields
