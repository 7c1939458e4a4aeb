"""`dawnline store`: back up, verify, restore, compact."""

from __future__ import annotations

import argparse
from pathlib import Path

from dawnline.cli.second_word import second_word
from dawnline.settings import find_config, load
from dawnline.store import upkeep

STOPPED = "The service must be stopped."


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    add("backup", "a copy into a new file, while the service goes on").add_argument("file", metavar="FILE", type=Path)
    add("verify", "read the whole store, or a backup").add_argument("file", metavar="FILE", type=Path, nargs="?")
    restore = add("restore", "put a backup in the place of the store; what stood there is kept", STOPPED)
    restore.add_argument("file", metavar="FILE", type=Path)
    add("compact", "write the file anew without its gaps", STOPPED)


def run(args: argparse.Namespace) -> int:
    """Run it."""
    store = load(find_config(args.config)).store.path
    match args.what:
        case "backup":
            upkeep.backup(store, args.file)
            print(f"{store} copied to {args.file}")
        case "verify":
            upkeep.verify(args.file or store)
            print(f"{args.file or store}: whole")
        case "restore":
            aside = upkeep.restore(args.file, store)
            print(f"{store} is now {args.file}" + (f"; what stood there is {aside}" if aside else ""))
        case "compact":
            before, after = upkeep.compact(store)
            print(f"{store}: {before / 1e6:.1f} MB before, {after / 1e6:.1f} MB after")
    return 0
