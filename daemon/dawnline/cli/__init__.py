"""The command line: one small file a command, imported when it is called."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Final

from dawnline import __version__
from dawnline.errors import DawnlineError, SettingsError

COMMANDS: Final[dict[str, str]] = {
    "run": "the service, in the foreground; logs to standard error",
    "check": "what is wrong with configuration, ports, broker, store, clock, people",
    "replay": "recorded readings (and acts) through the pipeline",
    "readings": "readings out of the store, in replay's form",
    "status": "now: values, flags, alarms, links, and how old it all is",
    "alarms": "list, acknowledge, shelve, unshelve",
    "logbook": "add what you did or measured by hand; list it",
    "probes": "list; take one out of service and return it",
    "review": "look back at a week",
    "demo": "a simulated pond, the service and a review, in about a minute",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0 well, 1 something is not well, 2 the call or a file is wrong."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without our letters shows others, and breaks nothing
    words = list(sys.argv[1:] if argv is None else argv)
    args = _parser(words).parse_args(words)
    try:
        status: int = args.run(args)
        sys.stdout.flush()
    except SettingsError as error:
        return _say(error, 2)
    except DawnlineError as error:
        return _say(error, 1)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        if os.environ.get("DAWNLINE_DEBUG"):
            raise
        return _say(f"a fault of dawnline itself ({type(error).__name__}: {error}); DAWNLINE_DEBUG=1 shows where", 1)
    return status


def _say(what: object, status: int) -> int:
    print("\n".join(f"dawnline: {line}" for line in str(what).splitlines()), file=sys.stderr)
    return status


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="dawnline",
        description="Keeps watch over a pond's pH and wakes the right person before it crashes.",
        epilog="Exit status: 0 all well; 1 something is not well; 2 the call or the configuration is wrong.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"dawnline {__version__}")
    _config(parser, None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    called = {word for word in words if word in COMMANDS}
    for name, text in COMMANDS.items():
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".", allow_abbrev=False)
        if name in called:
            module = import_module(f"dawnline.cli.{name}")
            _config(sub, argparse.SUPPRESS)
            module.arguments(sub)
            sub.set_defaults(run=module.run)
    return parser


def _config(parser: argparse.ArgumentParser, default: str | None) -> None:
    parser.add_argument(
        "--config",
        metavar="FILE",
        default=default,
        help="the pond's configuration (default: $DAWNLINE_CONFIG, then ./dawnline.toml)",
    )
