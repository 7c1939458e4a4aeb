"""Who may import whom. Reads the imports, runs nothing; the tables here are the rule."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = (ROOT / "daemon", ROOT / "simulator")

# No clock, no thread, no port, no file: what these say depends on what they are given, and on nothing else.
PURE = (
    "dawnline.quantity",
    "dawnline.reading",
    "dawnline.event",
    "dawnline.letter",
    "dawnline.errors",
    "dawnline.duration",
    "dawnline.state",
    "dawnline.typed",
    "dawnline.water",
    "dawnline.account",
    "dawnline.dosing",
    "dawnline.electrode",
    "dawnline.quality",
    "dawnline.outlook",
    "dawnline.alarms",
    "dawnline.people",
    "dawnline.logbook",
    "dawnline.review",
    "dawnline.rollup",
    "dawnline.contract",
    "dawnline.acting",
    "dawnline.acting_transmitter",
    "dawnline.acting_waiting",
    "dawnline.pipeline",
    "dawnline.probes.dialects",
    "dawnline_simulator.pond",
    "dawnline_simulator.probes",
    "dawnline_simulator.faults",
    "dawnline_simulator.failures",
    "dawnline_simulator.weather",
    "dawnline_simulator.processes",
    "dawnline_simulator.happenings",
    "dawnline_simulator.dice",
    "dawnline_simulator.sun",
    "dawnline_simulator.hard_pond",
)
PURE_LIBRARY = (
    *(
        "__future__",
        "abc",
        "array",
        "bisect",
        "collections",
        "copy",
        "csv",
        "dataclasses",
        "datetime",
        "decimal",
        "difflib",
    ),
    *(
        "enum",
        "fractions",
        "functools",
        "hashlib",
        "heapq",
        "html",
        "itertools",
        "json",
        "math",
        "operator",
        "re",
    ),
    *("statistics", "string", "struct", "textwrap", "types", "typing", "unicodedata", "zoneinfo"),
    *("astral.sun", "astral.Observer", "pydantic", "pydantic_core", "typing_extensions"),
)
PURE_NEVER_CALLS = ("now", "utcnow", "today", "open", "print", "input", "exec", "eval", "__import__")

NOUNS = (
    "dawnline.__version__",
    "dawnline.quantity",
    "dawnline.reading",
    "dawnline.event",
    "dawnline.letter",
    "dawnline.errors",
    "dawnline.duration",
)
# These rooms know the nouns and themselves, not one another.
APART = ("dawnline.probes", "dawnline.store", "dawnline.delivery")
APART_MAY = (*NOUNS, "dawnline.state", "dawnline.secret", "dawnline.broker", "dawnline.rollup")
# The settings of a probe are one section, and `[probes.quality]` stands in it: a plain model, nothing that judges.
# Those of a person give the person that the fold knows: the noun, nothing that decides.
COMPOSES = {
    "dawnline.probes.settings": ("dawnline.quality.settings",),
    "dawnline.delivery.settings": ("dawnline.people.person",),
}
# These know everything, and nothing below knows them; each knows those before it, and none after it.
TOP = ("dawnline.service", "dawnline.queries", "dawnline.cli")
SIMULATOR_MAY = (*NOUNS, "dawnline.water", "dawnline_simulator")
STARTS_THE_SIMULATOR = "dawnline.cli.demo"
TOO_HEAVY = ("numpy", "pandas", "scipy")  # a 32-bit board has no wheels for them


def within(name: str, rooms: tuple[str, ...]) -> bool:
    return any(name == room or name.startswith(f"{room}.") for room in rooms)


def imported(tree: ast.AST, package: str) -> Iterator[tuple[int, str]]:
    """Line and full name of everything imported, relative imports resolved against `package`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            origin = ".".join([*above, *([node.module] if node.module else [])])
            yield from ((node.lineno, f"{origin}.{alias.name}") for alias in node.names)


def called(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Attribute):
                yield node.lineno, node.func.attr
            elif isinstance(node.func, ast.Name):
                yield node.lineno, node.func.id


def objection(module: str, name: str) -> str | None:
    """Why `module` may not import `name`, or None where it may."""
    ours = within(name, ("dawnline", "dawnline_simulator"))
    if within(name, TOO_HEAVY):
        return "too heavy for the board"
    for place, room in enumerate(TOP):
        if within(name, (room,)) and not within(module, TOP[place:]):
            return "commands ask queries, queries ask the service, and not the other way"
    if within(module, PURE) and not within(name, PURE if ours else PURE_LIBRARY):
        return "a pure room imports pure things only"
    if within(module, ("dawnline_simulator",)) and ours and not within(name, SIMULATOR_MAY):
        return "the simulator knows the water and the nouns of dawnline, no more"
    if within(name, ("dawnline_simulator",)) and not within(module, ("dawnline_simulator", STARTS_THE_SIMULATOR)):
        return "only the demo starts the simulator"
    for room in APART:
        if within(module, (room,)) and ours and not within(name, (room, *APART_MAY, *COMPOSES.get(module, ()))):
            return "probes, store and delivery know the nouns, not one another"
    return None


def violations(module: str, source: str, *, package: str | None = None) -> list[str]:
    """Every breach in the source of `module`, as "module:line: ..."."""
    tree = ast.parse(source)
    found = [
        f"{module}:{line}: imports {name}: {why}"
        for line, name in imported(tree, package or module.rpartition(".")[0])
        if (why := objection(module, name))
    ]
    if within(module, PURE):
        found += [
            f"{module}:{line}: calls {name}(): a pure room is told the time and touches no file"
            for line, name in called(tree)
            if name in PURE_NEVER_CALLS
        ]
    return found


def modules() -> Iterator[tuple[str, Path]]:
    for source in SOURCES:
        for path in sorted(source.rglob("*.py")):
            parts = path.relative_to(source).with_suffix("").parts
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def test_every_import_keeps_to_the_house() -> None:
    found = []
    for module, path in modules():
        package = module if path.name == "__init__.py" else module.rpartition(".")[0]
        found += violations(module, path.read_text(encoding="utf-8"), package=package)
    assert not found, "\n".join(found)


def is_for_types(node: ast.stmt) -> bool:
    """Whether it is read by a type checker and never run."""
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def circle(leans_on: dict[str, set[str]]) -> list[str]:
    """Files each of which leans on the next, and the last on the first; empty where there are none."""
    left = dict(leans_on)
    while free := {name for name, others in left.items() if not others & left.keys()}:
        left = {name: others for name, others in left.items() if name not in free}
    found: list[str] = []
    while left and (not found or found[-1] not in found[:-1]):
        found.append(min(left[found[-1]] & left.keys()) if found else min(left))
    return found[found.index(found[-1]) :] if found else []


def test_no_file_leans_on_one_that_leans_on_it() -> None:
    sources = dict(modules())
    leans_on: dict[str, set[str]] = {}
    for module, path in sources.items():
        package = module if path.name == "__init__.py" else module.rpartition(".")[0]
        tree = ast.parse(path.read_text(encoding="utf-8"))
        tree.body = [node for node in tree.body if not is_for_types(node)]
        names = {name for _, name in imported(tree, package)}
        known = {name if name in sources else name.rpartition(".")[0] for name in names} & sources.keys()
        leans_on[module] = known - {module}
    assert circle(leans_on) == []


def test_a_circle_is_found() -> None:
    assert circle({"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": set()}) == ["b", "c", "b"]


def test_the_sources_are_found() -> None:
    names = {module for module, _ in modules()}
    assert {"dawnline", "dawnline.settings", "dawnline.water", "dawnline_simulator"} <= names


@pytest.mark.parametrize(
    ("module", "planted"),
    [
        ("dawnline.water.carbonate", "import time"),
        ("dawnline.water.carbonate", "import os.path"),
        ("dawnline.quality.spike", "from random import Random"),
        ("dawnline.quality.spike", "import logging"),
        ("dawnline.outlook.rhythm", "import sqlite3"),
        ("dawnline.outlook.rhythm", "from threading import Lock"),
        ("dawnline.outlook.rhythm", "def f():\n    import serial"),
        ("dawnline.outlook.rhythm", "from dawnline.store.settings import StoreSettings"),
        ("dawnline.outlook.rhythm", "from dawnline import store"),
        ("dawnline.outlook.sun", "from astral.geocoder import database"),
        ("dawnline.probes.dialects.text", "from dawnline.probes.settings import ProbeSettings"),
        ("dawnline.probes.dialects.text", "from ..links import serial"),
        ("dawnline.alarms.states", "import structlog"),
        ("dawnline.pipeline", "from datetime import datetime\nat = datetime.now()"),
        ("dawnline.pipeline", "import datetime\nat = datetime.datetime.utcnow()"),
        ("dawnline.review.week", "from datetime import date\nday = date.today()"),
        ("dawnline.review.week", "text = open('week.html').read()"),
        ("dawnline.review.week", "import numpy as np"),
        ("dawnline.store.readings", "import numpy"),
        ("dawnline.store.readings", "from dawnline.delivery.worker import Worker"),
        ("dawnline.store.readings", "from dawnline.probes.settings import ProbeSettings"),
        ("dawnline.delivery.mail", "from dawnline.store import open_store"),
        ("dawnline.delivery.mail", "from dawnline.alarms.states import State"),
        ("dawnline.probes.links.mqtt", "from dawnline.settings import Settings"),
        ("dawnline.probes.links.mqtt", "from dawnline.quality.settings import QualitySettings"),
        ("dawnline.probes.settings", "from dawnline.quality.judge import Judge"),
        ("dawnline.probes.links.mqtt", "from dawnline.service.clock import now"),
        ("dawnline.settings", "import dawnline.cli"),
        ("dawnline.page.server", "from dawnline import service"),
        ("dawnline.page.views.days", "from dawnline.queries.week_of import week_of"),
        ("dawnline.queries.week_of", "from dawnline.cli.moment import span"),
        ("dawnline.service.week_drawn", "from dawnline.queries.week_of import week_of"),
        ("dawnline.service.wiring", "from dawnline_simulator.pond import Pond"),
        ("dawnline_simulator.pond", "from random import random"),
        ("dawnline_simulator.pond", "from dawnline_simulator.wires import pty"),
        ("dawnline_simulator.wires.serial", "from dawnline.probes.dialects.text import decode"),
        ("dawnline_simulator.scenarios.cloudburst", "from dawnline import outlook"),
        ("dawnline_simulator.cli", "from dawnline.service.wiring import wire"),
    ],
)
def test_a_planted_breach_is_found(module: str, planted: str) -> None:
    assert len(violations(module, planted)) == 1


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("dawnline.water.carbonate", "from math import log10\nfrom .constants import henry"),
        (
            "dawnline.outlook.sun",
            "from zoneinfo import ZoneInfo\nfrom astral.sun import sunrise\nimport astral.sun",
        ),
        (
            "dawnline.outlook.settings",
            "from pydantic import BaseModel\nfrom dawnline.duration import Duration",
        ),
        ("dawnline.probes.dialects.text", "from dawnline.probes.dialects import number"),
        (
            "dawnline.probes.links.serial",
            "import serial\nimport time\nfrom dawnline.probes.settings import X",
        ),
        ("dawnline.store.readings", "import sqlite3\nfrom dawnline.reading import Reading"),
        ("dawnline.service.wiring", "from dawnline.store import x\nfrom dawnline.delivery import y"),
        ("dawnline.queries.present", "from dawnline.service import now_file"),
        ("dawnline.cli.run", "from dawnline.service import wiring"),
        ("dawnline.cli.demo", "from dawnline_simulator.scenarios import heron"),
        ("dawnline_simulator.pond", "from dawnline.water.carbonate import ph_from_co2"),
        ("dawnline_simulator.simulate", "from random import Random\nfrom dawnline import __version__"),
    ],
)
def test_what_is_allowed_passes(module: str, source: str) -> None:
    assert violations(module, source) == []
