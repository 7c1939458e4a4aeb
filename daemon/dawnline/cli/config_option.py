"""`--config`, which stands before or after the words of a command, and for many ponds more than once."""

from __future__ import annotations

import argparse
from typing import Final, Literal

# Where it is left: a parser would take back what one before it has found under the same name.
_PLACES: Final = ("config", "config_second", "config_third")


def config_option(parser: argparse.ArgumentParser, word: Literal[0, 1, 2]) -> None:
    """Add `--config` to what follows that many words."""
    parser.add_argument(
        "--config",
        dest=_PLACES[word],
        metavar="FILE",
        action="append",
        default=argparse.SUPPRESS if word else None,
        help="the pond's configuration (default: $DAWNLINE_CONFIG, then ./dawnline.toml); for many ponds repeated, or "
        "a folder of theirs: run, check, status, alarms list, review, page",
    )


def given(args: argparse.Namespace) -> list[str] | None:
    """Every file that was named, in its order; None where none was."""
    return [file for place in _PLACES for file in getattr(args, place, None) or ()] or None
