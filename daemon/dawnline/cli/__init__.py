"""The command line: one small file a command, imported when it is called."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Final

from dawnline import __version__
from dawnline.cli.config_option import config_option, given
from dawnline.errors import DawnlineError, SettingsError

COMMANDS: Final[dict[str, str]] = {
    "run": "the service, in the foreground; logs to standard error",
    "check": "what is wrong with configuration, ports, broker, store, clock, people",
    "replay": "recorded readings (and acts) through the pipeline",
    "readings": "readings out of the store, in replay's form",
    "status": "now: values, flags, alarms, links, and how old it all is",
    "alarms": "list, explain, acknowledge, shelve, unshelve; every move; how well they serve",
    "logbook": "add what you did or measured by hand; list it",
    "dose": "plan what may be put into the water, and how slowly; it never acts",
    "probes": "list; calibrate or check one, its history; take one out of service and return it",
    "review": "look back at a week",
    "page": "the page on the local network, a process of its own",
    "store": "back up, verify, restore, compact",
    "demo": "a simulated pond, the service and a review, in about a minute",
}
INTERRUPTED: Final = 130  # what a shell says of a command ended by Ctrl-C: 128 + SIGINT


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0 well, 1 something is not well, 2 the call or a file is wrong."""
    _settle_streams()
    try:
        return _run(list(sys.argv[1:] if argv is None else argv))
    except DawnlineError as error:
        return _say(error, 2 if isinstance(error, SettingsError) else 1)
    except OSError as error:
        _drop_output()
        if isinstance(error, BrokenPipeError):  # whoever read our output has seen enough
            return 1
        return _say(f"{error.filename or 'the output cannot be written'}: {error.strerror or error}", 1)
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        if os.environ.get("DAWNLINE_DEBUG"):
            raise
        return _say(f"a fault of dawnline itself ({type(error).__name__}: {error}); DAWNLINE_DEBUG=1 shows where", 1)


def _run(words: list[str]) -> int:
    try:
        args = _parser(words).parse_args(words)
        args.config = given(args)
        status: int = args.run(args)
    finally:
        sys.stdout.flush()  # here, where what goes wrong is still caught
    return status


def _settle_streams() -> None:
    """A stream that is closed swallows what is written; one without our letters shows others, and breaks nothing."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - to the end
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _drop_output() -> None:
    """What is still in the buffer goes nowhere: the interpreter would try it again at its end, and complain."""
    with suppress(OSError):  # a stream that is no file has no number
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


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
    config_option(parser, 0)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    called = {word for word in words if word in COMMANDS}
    for name, text in COMMANDS.items():
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".", allow_abbrev=False)
        if name in called:
            module = import_module(f"dawnline.cli.{name}")
            if name != "demo":  # which makes a pond of its own
                config_option(sub, 1)
            module.arguments(sub)
            sub.set_defaults(run=module.run)
    return parser
