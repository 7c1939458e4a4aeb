"""The way through buffer solutions at a phone beside the filter: a calibration, or a check in one buffer."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC
from itertools import chain
from typing import Any, Final

from dawnline.duration import MINUTE_MS, parse_time, show_duration
from dawnline.electrode.buffers import find_buffers
from dawnline.electrode.calibration import IDEAL, STANDARD_C
from dawnline.electrode.electrode import describe
from dawnline.electrode.walk import BACK_NOW, UNKNOWN, Step, Walk, in_force, interval
from dawnline.errors import InputError
from dawnline.page.ask import Ask, Go, Page
from dawnline.page.words import sentence
from dawnline.quantity import QUANTITIES
from dawnline.typed.quantity import plain_number

CHECK: Final = "check "
WAYS: Final = (
    ("7,10", "Calibrate in 7 and 10"),
    ("7,4", "Calibrate in 7 and 4"),
    ("4,7,10", "Calibrate in 4, 7 and 10"),
    ("7", "Calibrate in 7 alone"),
    ("check 7", "Only check in 7"),
    ("check 10", "Only check in 10"),
)


def ways(own: Iterable[str]) -> list[tuple[str, str]]:
    """What can be done, in the keeper's own buffers too, which are given by name."""
    more = (((name, f"Calibrate in {name} alone"), (f"{CHECK}{name}", f"Only check in {name}")) for name in own)
    return [*WAYS, *chain.from_iterable(more)]


def whole(ask: Ask) -> Page:
    """The page."""
    return Page("buffers.html", _shown(ask))


def part(ask: Ask) -> Page:
    """What changes of it."""
    return Page("buffers_part.html", _shown(ask))


def go(ask: Ask) -> Go:
    """One step on: begin, immersed, decide, replaced, stop."""
    name, here = _name(ask), f"/probes/{_name(ask)}/buffers"
    step = _STEPS.get(ask.path["step"])
    if step is None:
        raise InputError(f"there is no step {ask.path['step']!r}")
    try:
        said, well = step(ask, name)
    except InputError as error:
        said, well = str(error), False
    return Go(here, sentence(said), well)


# ------------------------------------------------------------ steps


def _begin(ask: Ask, name: str) -> tuple[str, bool]:
    wanted = ask.form.get("buffers", "")
    adjust, words = not wanted.startswith(CHECK), wanted.removeprefix(CHECK)
    own = [each.buffer for each in ask.doors.settings.buffers]
    probe = _data(ask, name)["probes"][name]
    walk = Walk(name, in_force(probe), find_buffers(words, own), adjust=adjust)
    walk.every = interval(probe)
    lasts = f"{walk.lasts // MINUTE_MS}m"
    well, text = _put(ask, "calibration", {"probe": name, "for": lasts, "outcome": True})
    if well:
        ask.walks[name] = walk
        text = f"{name} is out of service for {lasts} and comes back by itself"
    return text, well


def _immersed(ask: Ask, name: str) -> tuple[str, bool]:
    _walk(ask, name).immersed(plain_number(ask.form.get("celsius", "")))
    return "", True


def _keep(ask: Ask, name: str) -> tuple[str, bool]:
    _walk(ask, name).decide(keep=True)
    return _outcome(ask, name)


def _leave(ask: Ask, name: str) -> tuple[str, bool]:
    _walk(ask, name).decide(keep=False)
    return "nothing has been changed", True


def _outcome(ask: Ask, name: str) -> tuple[str, bool]:
    outcome = _walk(ask, name).outcome()
    if outcome is None:
        return "", True
    well, text = _put(ask, *outcome)
    return text if well else f"refused: {text}", well


def _replaced(ask: Ask, name: str) -> tuple[str, bool]:
    walk = _walk(ask, name)
    del ask.walks[name]
    said = "" if walk.adjust else _checked(ask, walk)
    well, text = _put(ask, "return", {"probe": name})
    return f"{said}{name}: {text}", well


def _checked(ask: Ask, walk: Walk) -> str:
    outcome = walk.outcome()
    if outcome is None:
        return ""
    well, text = _put(ask, *outcome)
    return f"{'' if well else 'refused: '}{text}. "


def _stop(ask: Ask, name: str) -> tuple[str, bool]:
    walk = ask.walks.pop(name, None)
    _, text = _put(ask, "return", {"probe": name})
    if walk is None:
        return f"{name}: {text}", True
    return f"stopped; nothing has been changed. {name}: {text}. {BACK_NOW}", True


def _walk(ask: Ask, name: str) -> Walk:
    if name not in ask.walks:
        raise InputError("nothing is under way any more: the probe is back, or the page was started anew; begin again")
    return ask.walks[name]


_STEPS: Final = {
    "begin": _begin,
    "immersed": _immersed,
    "keep": _keep,
    "leave": _leave,
    "replaced": _replaced,
    "stop": _stop,
}


def _put(ask: Ask, kind: str, body: dict[str, Any]) -> tuple[bool, str]:
    silent = False, "the service does not answer; it takes this as soon as it can"
    return ask.put(kind, body) or silent


# ------------------------------------------------------------ what is shown


def _shown(ask: Ask) -> dict[str, Any]:
    name = _name(ask)
    data, walk = _data(ask, name), ask.walks.get(name)
    probe = data["probes"][name]
    if walk is not None and probe["out_until"] is None:
        del ask.walks[name]
        walk = None
    if walk is not None and walk.step is Step.SETTLE and probe.get("value") is not None:
        walk.see(parse_time(probe["time"], UTC), probe["value"], clock_set=data.get("clock_set", True))
    shown: dict[str, Any] = {"name": name, "probe": probe, "walk": walk, "step": walk and walk.step.name}
    if walk is None:
        shown["ways"] = ways(each.name for each in ask.doors.settings.buffers)
        shown["begun_until"] = probe["calibration"].get("under_way_until")
        return shown
    if walk.step is Step.SETTLE:
        steady = walk.stability
        shown["steady"] = str(steady)
        shown["in_vain"] = bool(steady.window) and walk.waits_in_vain(steady.window[-1][0])
    if walk.step is Step.DECIDE:
        found, judgement = walk.found()
        shown["before"] = "never calibrated" if walk.before.never else describe(walk.before)
        shown["found"] = "" if found is None else describe(found)
        shown["judgement"] = judgement
    shown["settled"] = [
        f"buffer {buffer.name}: {QUANTITIES[probe['quantity']].show(point.measured)} after {show_duration(took)}"
        for buffer, point, took in zip(walk.buffers, walk.points, walk.settling_ms, strict=False)
    ]
    shown["guess"] = f"{_warmth(ask, name):.1f}"
    return shown


def _warmth(ask: Ask, name: str) -> float:
    """The buffer's temperature as far as we know: the last one typed, the thermometer's, a guess [degC]."""
    walk = ask.walks[name]
    if walk.points:
        return walk.celsius
    thermometer = next((each.temperature for each in ask.doors.settings.probes if each.name == name), None)
    seen = ask.doors.present().data["probes"].get(thermometer or "", {})
    return float(seen["value"]) if seen.get("flag") == "good" else STANDARD_C


def _name(ask: Ask) -> str:
    name = ask.path["name"]
    if name not in {each.name for each in ask.doors.settings.probes if each.quantity in IDEAL}:
        raise InputError(f"there is no pH probe {name!r}")
    return name


def _data(ask: Ask, name: str) -> dict[str, Any]:
    """The present of a service that runs and knows this probe; raises InputError where there is none."""
    present = ask.doors.present()
    if not present.running:
        raise InputError("the service does not run: without it there is no live value")
    if name not in present.data["probes"]:
        raise InputError(UNKNOWN.format(name))
    return present.data
