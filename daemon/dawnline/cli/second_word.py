"""The second word of a command: `alarms list`, `logbook add`."""

from __future__ import annotations

import argparse
from typing import Protocol

from dawnline.cli.config_option import config_option


class Add(Protocol):
    """Adds one second word, with the line it has in the list and, where that says too little, a longer text."""

    def __call__(self, name: str, text: str, more: str = "") -> argparse.ArgumentParser:
        """The parser of this word."""


def second_word(parser: argparse.ArgumentParser) -> Add:
    """Make `parser` take one more word, left in `args.what`; gives what adds those there are."""
    words = parser.add_subparsers(dest="what", metavar="WHAT", required=True)

    def add(name: str, text: str, more: str = "") -> argparse.ArgumentParser:
        whole = f"{text[0].upper()}{text[1:]}. {more}".strip()
        sub = words.add_parser(name, help=text, description=whole, allow_abbrev=False)
        config_option(sub, 2)
        return sub

    return add
