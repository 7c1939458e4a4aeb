"""Letters on a text stream, for the demo and for a first look: framed, to stand out among the log."""

from __future__ import annotations

import re
import textwrap
from typing import TextIO

from dawnline.errors import DeliveryError
from dawnline.letter import Letter, one_line

_WIDTH = 78
_MARK = re.compile(r" *(?:(?:\d{1,2}\.|[-*]) +)?")  # indent, and the number or bullet of a step


def _wrapped(line: str) -> list[str]:
    """A line in rows of the width, a little indented; what follows a number or a bullet hangs below its first word."""
    mark = _MARK.match(line)
    hanging = " " * (2 + (mark.end() if mark else 0))
    return textwrap.wrap(f"  {line}", _WIDTH, subsequent_indent=hanging, break_on_hyphens=False) or [""]


def send_console(letter: Letter, stream: TextIO) -> str:
    """Write `letter` to `stream` as one block. Raises DeliveryError where the stream takes no more."""
    head = f"== {letter.priority} == for {one_line(letter.person)} "
    lines = [head.ljust(_WIDTH, "="), *_wrapped(letter.subject_to_send), ""]
    lines += [row for line in letter.text_to_send.split("\n") for row in _wrapped(line)]
    block = "\n".join([*lines, "=" * _WIDTH, ""])
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        stream.write(block.encode(encoding, "replace").decode(encoding))
        stream.flush()
    except (OSError, ValueError) as error:  # ValueError: the stream has been closed
        raise DeliveryError(f"console: {error}", retry=True) from None
    return "written to the console"
