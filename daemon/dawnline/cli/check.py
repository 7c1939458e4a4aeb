"""`dawnline check`: what is wrong with configuration, ports, broker, store, clock, people; a test message."""

from __future__ import annotations

import argparse
import sys
from typing import Final

from dawnline.catalogue_file import shipped
from dawnline.errors import DeliveryError, SettingsError
from dawnline.settings import Settings
from dawnline.settings_ponds import find_configs, load_ponds

EXAMPLE: Final = "ph-low"
_MARKS: Final = {True: "well    ", False: "NOT WELL", None: "remark  "}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--notify", action="store_true", help="send a message marked TEST to everybody")
    parser.add_argument(
        "--as",
        dest="alarm",
        metavar="ALARM",
        choices=list(shipped()),
        help=f"with --notify: the alarm whose text is sent, one of {', '.join(shipped())} (default: {EXAMPLE})",
    )


def run(args: argparse.Namespace) -> int:
    """Run it: 0 where all is well."""
    if args.alarm is not None and not args.notify:
        raise SettingsError("--as says whose text is sent, expected --notify with it")
    ponds = load_ponds(find_configs(args.config))
    results = []
    for settings in ponds:
        if len(ponds) > 1:
            print(f"{settings.pond.name}:")
        results.append(_check(settings))
        if args.notify:
            results.append(_notify(settings, args.alarm or EXAMPLE))
    return 0 if all(results) else 1


def _check(settings: Settings) -> bool:
    from dawnline.service.check import checks

    all_well = True
    for line in checks(settings):
        print(f"{_MARKS[line.well]}  {line.what}: {line.text}")
        all_well = all_well and line.well is not False
    return all_well


def _notify(settings: Settings, alarm: str) -> bool:
    """Send the test message to every address, one after another, and say what the far end said."""
    from dawnline.alarms.desk import Desk
    from dawnline.delivery.channels import Channels
    from dawnline.letter import letters
    from dawnline.people.rehearsal import rehearse
    from dawnline.people.words import Words
    from dawnline.service.clock import from_environment

    channels, all_well, zone = Channels(settings.mail, settings.folder, sys.stdout), True, settings.pond.zone
    people = [person.in_force(zone) for person in settings.people]
    words = Words(Desk(settings.catalogue, zone, settings.alarms), settings.pond.name, zone, people)
    for message in rehearse(alarm, from_environment().now(), words):
        for letter in letters(message):
            try:
                outcome = channels.send(letter)
            except DeliveryError as error:
                outcome, all_well = f"NOT SENT: {error}", False
            print(f"test message to {letter.person}: {outcome}")
    return all_well
