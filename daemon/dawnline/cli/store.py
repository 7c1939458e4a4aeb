"""`dawnline store`: back up, verify, restore, rename, compact."""

from __future__ import annotations

import argparse
from pathlib import Path

from dawnline.cli.second_word import second_word
from dawnline.errors import SettingsError
from dawnline.settings import Settings, find_config, load
from dawnline.store import upkeep
from dawnline.store.rename import rename

STOPPED = "The service must be stopped."


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    add("backup", "a copy into a new file, while the service goes on").add_argument("file", metavar="FILE", type=Path)
    add("verify", "read the whole store, or a backup").add_argument("file", metavar="FILE", type=Path, nargs="?")
    restore = add("restore", "put a backup in the place of the store; what stood there is kept", STOPPED)
    restore.add_argument("file", metavar="FILE", type=Path)
    name = add("rename", "a probe of the record goes on under the name it has in the configuration now", STOPPED)
    name.add_argument("old", metavar="OLD", help="as the record has it")
    name.add_argument("new", metavar="NEW", help="as it is called now")
    add("compact", "write the file anew without its gaps", STOPPED)


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    store = settings.store.path
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
        case "rename":
            _may_be_called(settings, args.old, args.new)
            count = rename(store, args.old, args.new)
            print(f"{args.old} is {args.new} from now on, with {count} readings, its days, and what was done at it; "
                  "what was learned of it is learned again from the last three weeks at the next start")  # fmt: skip
        case "compact":
            before, after = upkeep.compact(store)
            print(f"{store}: {before / 1e6:.1f} MB before, {after / 1e6:.1f} MB after")
    return 0


def _may_be_called(settings: Settings, old: str, new: str) -> None:
    """Raises SettingsError where the configuration says otherwise."""
    named = [probe.name for probe in settings.probes]
    if new not in named:
        raise SettingsError(f"no probe is called {new!r} in {settings.path}, only: {', '.join(named)}")
    if old in named:
        raise SettingsError(f"a probe is still called {old!r} in {settings.path}: give it its new name there first")
