"""What no section can see alone: whether the parts of a configuration agree with one another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from dawnline.catalogue_file import shipped
from dawnline.delivery.settings import PersonSettings
from dawnline.duration import show_duration
from dawnline.electrode.settings import BufferSettings
from dawnline.people.weekly import WeeklySettings, by_mail
from dawnline.probes.settings import ProbeSettings
from dawnline.quality.settings import settled
from dawnline.quantity import QUANTITIES
from dawnline.settings_errors import Fault, strangers

# The widest span an instrument on sale claims, in the quantity's unit. Common practice, no source, except
# temperature: -55 to 125 degC are the limits of the DS18B20 (Maxim, data sheet 19-7487), here with a margin.
INSTRUMENT_SPANS: dict[str, tuple[float, float]] = {
    "ph": (-2.0, 16.0),
    "electrode_mv": (-2000.0, 2000.0),
    "temperature": (-60.0, 150.0),
    "dissolved_oxygen": (0.0, 100.0),
    "rain": (0.0, 1e6),
}

Model = TypeVar("Model", bound=BaseModel)


def disagreements(content: Mapping[str, Any], context: Mapping[str, Any]) -> list[Fault]:
    """Faults between sections, judged on those probes and people that are right by themselves."""
    probes = list(_right(ProbeSettings, content.get("probes"), context))
    people = list(_right(PersonSettings, content.get("people"), context))
    buffers = list(_right(BufferSettings, content.get("buffers"), context))
    faults = [
        *_same_names("probes", probes),
        *_same_names("people", people),
        *_same_names("buffers", buffers),
        *_compensated(probes),
        *_shared_ports(probes),
        *_shared_devices(probes),
        *_shared_topics(probes),
        *_spans(probes),
        *_thresholds(probes),
    ]
    alarms = content.get("alarms")
    faults += strangers("alarm", ("alarms",), alarms if isinstance(alarms, dict) else (), list(shipped()))
    faults += _weekly(list(_right(WeeklySettings, [content.get("weekly")], context)), people)
    if "mqtt" not in content and any(probe.link == "mqtt" for _, probe in probes):
        needing = ", ".join(probe.name for _, probe in probes if probe.link == "mqtt")
        faults.append(Fault("mqtt", f"found nothing, expected a section [mqtt] for the probes that need it: {needing}"))
    if "mail" not in content:
        faults += [
            Fault("mail", f"found nothing, expected a section [mail] for {person.name}'s address")
            for _, person in people
            if any(address.startswith("mailto:") for address in person.addresses)
        ][:1]
    return faults


def _right(model: type[Model], items: Any, context: Mapping[str, Any]) -> Iterator[tuple[int, Model]]:
    for index, item in enumerate(items if isinstance(items, list) else []):
        try:
            right = model.model_validate(item, context=dict(context))
        except ValidationError:
            continue
        yield index, right


def _same_names(
    section: str, items: Sequence[tuple[int, ProbeSettings | PersonSettings | BufferSettings]]
) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for index, item in items:
        before = first.setdefault(item.name, index)
        if before != index:
            found = f'found "{item.name}", which is also the name of {section}[{before}]'
            yield Fault(f"{section}[{index}].name", f"{found}, expected a name of its own")


def _compensated(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    """What compensates a pH probe is a thermometer of this configuration."""
    thermometers = [probe.name for _, probe in probes if probe.quantity == "temperature"]
    for index, probe in probes:
        if probe.temperature is None:
            continue
        if probe.quantity not in ("ph", "electrode_mv"):
            yield Fault(f"probes[{index}].temperature", f'found it beside quantity "{probe.quantity}", expected none: '
                        "only pH is compensated")  # fmt: skip
        elif probe.temperature not in thermometers:
            known = f"one of: {', '.join(thermometers)}" if thermometers else "none, since no probe has this quantity"
            found = f'found "{probe.temperature}", which is no probe of quantity "temperature"'
            yield Fault(f"probes[{index}].temperature", f"{found}, expected {known}")


def _weekly(found: list[tuple[int, WeeklySettings]], people: list[tuple[int, PersonSettings]]) -> Iterator[Fault]:
    """Whom the report of the week goes to is somebody, and has an address for mail."""
    known = {person.name: person for _, person in people}
    for _, weekly in found:
        for index, name in enumerate(weekly.to):
            place = f"weekly.to[{index}]"
            if name not in known:
                names = f"one of: {', '.join(known)}" if known else "somebody in [[people]]"
                yield Fault(place, f'found "{name}", who is nobody here, expected {names}')
            elif not by_mail(known[name].addresses):
                yield Fault(place, f'found "{name}", who has no address for mail, expected one with "mailto:..."')


def _shared_ports(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    """Probes on one port share how it is set; on a serial line they are told apart by their keys, or names where
    they have none.
    """
    first: dict[str, tuple[int, ProbeSettings]] = {}
    keys: dict[tuple[str, str], int] = {}
    for index, probe in probes:
        if probe.link not in ("serial", "modbus") or probe.port is None:
            continue
        before, other = first.setdefault(probe.port, (index, probe))
        if probe.link != other.link:
            found = f'found "{probe.link}", and "{other.link}" for probes[{before}] on the same port {probe.port}'
            yield Fault(f"probes[{index}].link", f"{found}, expected one link a port")
            continue
        for setting, noun in (("baud", "speed"), ("parity", "parity"), ("stopbits", "number of stop bits")):
            mine, theirs = getattr(probe, setting), getattr(other, setting)
            if mine != theirs:
                found = f"found {mine}, and {theirs} for probes[{before}] on the same port {probe.port}"
                yield Fault(f"probes[{index}].{setting}", f"{found}, expected one {noun} a port")
        same = keys.setdefault((probe.port, probe.key or probe.name), index)
        if same != index and probe.link == "serial":
            yield Fault(f"probes[{index}].key", _same_source(probe, same, f"port {probe.port}"))


def _shared_devices(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    """One register, one thermometer: one probe."""
    first: dict[tuple[object, ...], int] = {}
    for index, probe in probes:
        if probe.link not in ("modbus", "onewire"):
            continue
        source = (probe.link, probe.where, probe.folder)
        before = first.setdefault(source, index)
        if before != index:
            key = "register" if probe.link == "modbus" else "device"
            found = f"found {probe.where}, which probes[{before}] reads already"
            yield Fault(f"probes[{index}].{key}", f"{found}, expected a {key} of its own")


def _shared_topics(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    keys: dict[tuple[str, str], int] = {}
    for index, probe in probes:
        if probe.link == "mqtt" and probe.topic is not None:
            same = keys.setdefault((probe.topic, probe.key or probe.name), index)
            if same != index:
                yield Fault(f"probes[{index}].key", _same_source(probe, same, f"topic {probe.topic}"))


def _same_source(probe: ProbeSettings, other: int, where: str) -> str:
    found = f'found "{probe.key}"' if probe.key is not None else f'found none, which stands for "{probe.name}"'
    return f"{found}, as for probes[{other}] on the same {where}, expected a key of its own"


def _spans(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    for index, probe in probes:
        if probe.span is None:
            continue
        (lower, upper), (least, most) = probe.span, INSTRUMENT_SPANS[probe.quantity]
        if not least <= lower < upper <= most:
            unit = QUANTITIES[probe.quantity].unit
            found = f"found [{lower:g}, {upper:g}]"
            yield Fault(
                f"probes[{index}].span",
                f"{found}, expected [lower, upper] within {least:g} to {most:g} {unit}",
            )


def _thresholds(probes: list[tuple[int, ProbeSettings]]) -> Iterator[Fault]:
    """Of each check the weaker threshold comes first, with those left out as usual for the quantity."""
    for index, probe in probes:
        to = settled(probe.quantity, probe.quality)
        place = f"probes[{index}].quality"
        least, most = probe.span or QUANTITIES[probe.quantity].span
        if to.usual is not None and not least <= to.usual[0] < to.usual[1] <= most:
            found = f"found [{to.usual[0]:g}, {to.usual[1]:g}]"
            yield Fault(f"{place}.usual", f"{found}, expected [lower, upper] within its span, {least:g} to {most:g}")
        if not to.flat.floor <= to.flat.cap <= to.flat.fail:
            times = (to.flat.floor, to.flat.cap, to.flat.fail)
            found = "found floor {}, cap {}, fail {}".format(*map(show_duration, times))
            yield Fault(f"{place}.flat", f"{found}, expected each at least as long as the one before")
        if to.attenuated.fail > to.attenuated.least:
            found = f"found {to.attenuated.fail:g}, and least = {to.attenuated.least:g}"
            yield Fault(f"{place}.attenuated.fail", f"{found}, expected no more than that")
        if to.rate.fail_per_minute is not None and to.rate.fail_per_minute < to.rate.per_minute:
            found = f"found {to.rate.fail_per_minute:g}, and per_minute = {to.rate.per_minute:g}"
            yield Fault(f"{place}.rate.fail_per_minute", f"{found}, expected no less than that")
        if to.gap.after is not None and probe.interval is not None and to.gap.after < probe.interval:
            found = f"found {show_duration(to.gap.after)}, and interval = {show_duration(probe.interval)}"
            why = "else each reading comes after a gap, and a frozen value is not seen"
            yield Fault(f"{place}.gap.after", f"{found}, expected no less than that: {why}")
