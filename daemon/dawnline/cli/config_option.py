"""`--config`, which stands before or after the words of a command."""

from __future__ import annotations

import argparse


def config_option(parser: argparse.ArgumentParser, default: str | None) -> None:
    """Add `--config`; `default` is argparse.SUPPRESS for a word after the first, so that it takes nothing back."""
    parser.add_argument(
        "--config",
        metavar="FILE",
        default=default,
        help="the pond's configuration (default: $DAWNLINE_CONFIG, then ./dawnline.toml)",
    )
