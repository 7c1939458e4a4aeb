"""Checks of who is told: each address, the hours and the order, the heartbeat, the key of links."""

from __future__ import annotations

from collections.abc import Iterator

from dawnline.delivery.ack_link import link_key
from dawnline.delivery.addresses import is_reference, resolve_address
from dawnline.delivery.heartbeat import web_address
from dawnline.delivery.push import check_push
from dawnline.delivery.settings import PersonSettings
from dawnline.errors import DawnlineError
from dawnline.people.weekly import by_mail
from dawnline.service.check_line import Line
from dawnline.settings import Settings


def people(settings: Settings, now: int) -> Iterator[Line]:
    """Whether everybody can be told, at `now` [ms]."""
    if not settings.people:
        yield Line("people", False, "nobody is configured: no alarm reaches anybody; add [[people]]")
        return
    for person in settings.people:
        yield from _person(person, settings, now)
    on_duty = [person for person in settings.people if person.in_force(settings.pond.zone).on_duty(now)]
    if not on_duty:
        yield Line("people", False, "nobody is to be told today: see `from` and `until` in [[people]]")
    elif all(person.priority != "low" for person in on_duty):
        yield Line("people", None, "nobody hears of low-priority alarms")
    if len({address for person in on_duty for address in person.addresses}) == 1:
        yield Line("people", None, "there is one address in all: where that fails, nobody hears of an alarm")


def _person(person: PersonSettings, settings: Settings, now: int) -> Iterator[Line]:
    known = person.in_force(settings.pond.zone)
    for text in person.addresses:
        why = _unusable(text, settings)
        shown = text if is_reference(text) or text.startswith("mailto:") else text.partition(":")[0]
        yield Line(f"person {person.name}", why is None, why or f"{shown}, from {person.priority} priority on")
    if known.begins is not None and now < known.begins:
        yield Line(f"person {person.name}", None, f"is told nothing before {person.from_}")
    if known.ends is not None and now >= known.ends:
        yield Line(f"person {person.name}", None, f"is told nothing any more since {person.until}: remove the entry")


def _unusable(text: str, settings: Settings) -> str | None:
    """Why no letter can go to this address; None where one can be tried."""
    try:
        address = resolve_address(text, settings.folder)
        if address.channel == "push":
            check_push(address.target)
    except (DawnlineError, ValueError) as error:
        return str(error)
    if address.channel == "mail" and settings.mail is None:
        return f"{text} is a mail address, and there is no section [mail] with the server that sends it: add it"
    return None


def heartbeat(settings: Settings) -> Iterator[Line]:
    """Whether the heartbeat has an address to go to; it is not tried, since somebody may count on its absence."""
    if settings.heartbeat is None:
        return
    try:
        web_address(settings.heartbeat.url, settings.folder)
    except DawnlineError as error:
        yield Line("heartbeat", False, str(error))
    else:
        yield Line("heartbeat", True, "has an address; `dawnline status` counts what is taken")


def links(settings: Settings) -> Iterator[Line]:
    """Whether the links in messages can be signed."""
    if settings.page.link_key is None:
        return
    try:
        link_key(settings.page.link_key)
    except DawnlineError as error:
        yield Line("links in messages", False, str(error))
    else:
        yield Line("links in messages", True, f"lead to {settings.page.address}")


def weekly(settings: Settings) -> Iterator[Line]:
    """Whether the report of the week has somewhere to go. Whoever is named is somebody, else nothing is loaded."""
    if settings.weekly is None:
        return
    for person in settings.people:
        if person.name in settings.weekly.to:
            reached = [text for text in by_mail(person.addresses) if _is_mail(text, settings)]
            when = f"{settings.weekly.on.capitalize()} at {settings.weekly.at}"
            said = f"each {when} to {person.name}" if reached else f"{person.name} has no address for mail: add one"
            yield Line("weekly report", bool(reached), said)


def _is_mail(text: str, settings: Settings) -> bool:
    try:
        return settings.mail is not None and resolve_address(text, settings.folder).channel == "mail"
    except DawnlineError:
        return False
