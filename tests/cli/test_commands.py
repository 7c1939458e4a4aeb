"""The command line as a newcomer meets it: words, help, exit status, odd terminals, what it loads."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from dawnline import __version__
from dawnline.cli import COMMANDS, _parser

ROOT = Path(__file__).parents[2]
SECOND = {
    "alarms": ["list", "explain", "acknowledge", "shelve", "unshelve", "journal", "report"],
    "logbook": ["add", "account", "kinds", "list", "correct", "withdraw", "import", "export"],
    "dose": ["raise-kh", "lower-ph", "water-change", "shell"],
    "probes": ["list", "out-of-service", "return"],
}
ALL = [[], *([name] for name in COMMANDS), *([name, word] for name, words in SECOND.items() for word in words)]
ASKING = [["status"], ["review"], ["alarms", "list"], ["alarms", "acknowledge", "1"], ["logbook", "list"]]
HEAVY = (
    "paho",
    "serial",
    "pymodbus",
    "apprise",
    "influxdb_client",
    "urllib3",
    "smtplib",
    "astral.geocoder",
    "structlog",
)


def test_version(call: Any) -> None:
    assert call("--version").out.strip() == f"dawnline {__version__}"


@pytest.mark.parametrize("words", ALL, ids=" ".join)
def test_every_word_has_help(call: Any, words: list[str]) -> None:
    found = call(*words, "--help")
    assert (found.status, found.err) == (0, "")
    assert found.out.startswith(" ".join(["usage: dawnline", *words]))
    told = found.out.split("\n\n", 1)[1]
    assert told[0].isupper()  # a sentence before the options
    assert ("--config FILE" in found.out) is (words[:1] != ["demo"])


@pytest.mark.parametrize(
    "words",
    [
        ["nonsense"],
        [],
        ["status", "--nonsense"],
        ["status", "--conf", "x"],
        ["alarms"],
        ["alarms", "acknowledge"],
        ["alarms", "acknowledge", "one"],
        ["alarms", "shelve", "1"],
        ["alarms", "shelve", "1", "--fo", "2h"],
        ["logbook", "add"],
        ["logbook", "add", "nonsense"],
        ["logbook", "add", "correct"],
        ["logbook", "add", "acknowledge", "id=1"],
        ["logbook", "correct"],
        ["logbook", "withdraw"],
        ["logbook", "import"],
        ["readings"],
        ["replay"],
        ["run", "--log", "loud"],
        ["check", "--notify", "--as", "nonsense"],
        ["demo", "--seed", "x"],
    ],
    ids=" ".join,
)
def test_words_that_are_no_call_are_status_two(call: Any, words: list[str]) -> None:
    found = call(*words)
    assert found.status == 2
    assert found.err.startswith("usage: dawnline")
    assert found.out == ""


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["alarms", "shelve", "1", "--for", "2"], "expected a duration with its unit"),
        (["alarms", "shelve", "1", "--for", "8d"], "expected at most 7 d, found '8d'"),
        (["alarms", "shelve", "1", "--for", "0s"], "expected more than 0 s, found '0s'"),
        (["alarms", "acknowledge", "0"], "acknowledge: id"),
        (["probes", "out-of-service", "moon", "--for", "30m"], "no probe is named 'moon'; there are: ph, water"),
        (["probes", "return", "moon"], "no probe is named 'moon'"),
        (["logbook", "add", "hand-test"], "at least one figure"),
        (["logbook", "add", "hand-test", "kh=3"], "'3' without a unit"),
        (["logbook", "add", "hand-test", "khh=3"], "did you mean 'kh'"),
        (["logbook", "add", "test", "six drops"], "such as 6 drops, 6 dKH, 107 ppm or 2.1 meq/L"),
        (["logbook", "add", "change", "300"], "without a unit"),
        (["logbook", "add", "rain", "12 mm", "when=noon"], "such as 08:00"),
        (["logbook", "add", "hand-test", "kh_dkh"], "expected KEY=VALUE"),
        (["logbook", "add", "hand-test", "kh_dkh=NaN"], "kh_dkh"),
        (["logbook", "add", "hand-test", "kh_dkh=1e999"], "kh_dkh"),
        (["logbook", "add", "hand-test", "kh_dkh=3", "kh_dkh=4"], "'kh_dkh' twice"),
        (["logbook", "add", "cleaning", "probe=moon"], "no probe is named 'moon'"),
        (["logbook", "list", "--from", "soon"], "expected a date such as 2026-06-03"),
        (["readings", "--csv", "x.csv", "--from", "2026-03-29T02:30"], "change of the clock"),
        (["readings", "--csv", "x.csv", "--from", "2026-06-03", "--to", "2026-06-01"], "earlier one first"),
        (["review", "--from", "0001-01-01"], "1970 to 2100"),
        (["check", "--as", "ph-low"], "expected --notify"),
        (["demo", "--seconds", "0"], "--seconds: found 0, expected 5 to 3600"),
        (["demo", "--seconds", "nan"], "--seconds: found nan"),
        (["status", "--config", "dawnline.toml", "--config", "dawnline.toml"], "more than once"),
        (["logbook", "list", "--config", "dawnline.toml", "--config", "b.toml"], "expected one"),
    ],
    ids=str,
)
def test_a_call_that_no_service_would_take_is_status_two(call: Any, words: list[str], says: str) -> None:
    found = call(*words)
    assert found.status == 2
    assert found.err.startswith("dawnline: ")
    assert says in found.err


@pytest.mark.parametrize("words", [["run"], ["check"], *ASKING, ["replay", "x.csv"]], ids=" ".join)
def test_without_a_configuration_the_remedy_is_named(folder: Path, call: Any, words: list[str]) -> None:
    (folder / "dawnline.toml").unlink()
    found = call(*words)
    assert found.status == 2
    assert "dawnline.toml: found no such file" in found.err
    assert "--config" in found.err


@pytest.mark.parametrize("words", [*ASKING, ["readings", "--csv", "out.csv"]], ids=" ".join)
def test_without_a_store_it_says_so(folder: Path, call: Any, words: list[str]) -> None:
    found = call(*words)
    assert found.status == 1
    assert "pond.db" in found.err
    assert "dawnline run" in found.err or "start the service" in found.err
    assert sorted(path.name for path in folder.iterdir()) == ["dawnline.toml", "runtime"]


def test_the_configuration_may_be_named_in_five_ways(folder: Path, call: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "dawnline.toml").rename(folder / "other.toml")
    for words in (
        ["--config", "other.toml", "probes", "list"],
        ["--config=other.toml", "probes", "list"],
        ["probes", "--config", "other.toml", "list"],
        ["probes", "list", "--config", "other.toml"],
    ):
        assert "/dev/no-such-port" in call(*words).out, words
    monkeypatch.setenv("DAWNLINE_CONFIG", "other.toml")
    assert "/dev/no-such-port" in call("probes", "list").out


@pytest.mark.parametrize(("name", "value"), [("DAWNLINE_LOG", "loud"), ("DAWNLINE_CLOCK_RATE", "fast")])
def test_the_environment_is_checked_as_well(call: Any, monkeypatch: pytest.MonkeyPatch, name: str, value: str) -> None:
    monkeypatch.setenv(name, value)
    found = call("run")
    assert found.status == 2
    assert f"{name}: found '{value}'" in found.err


# ------------------------------------------------------------ what is written down


def written_calls() -> list[str]:
    """Every command line in the papers: in code spans and code blocks, in the examples' comments, in units."""
    texts = [(ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")]
    calls = [call for text in texts for call in re.findall(r"`(?:\S*/)?dawnline ([a-z-][^`]*)`", text)]
    blocks = [block for text in texts for block in re.findall(r"```sh\n(.*?)```", text, re.S)]
    files = [*(ROOT / "config").iterdir(), *(ROOT / "systemd").glob("*.service")]
    examples = [path.read_text(encoding="utf-8") for path in files]
    for text in [*blocks, *examples]:
        calls += re.findall(r"(?:^|[\s/])dawnline ((?:--config \S+ )?(?:" + "|".join(COMMANDS) + r")\b[^#\n\"]*)", text)
    return [re.sub(r"\{ids?\}", "3", call.strip().strip("`")) for call in calls]


def test_every_command_line_in_the_papers_parses() -> None:
    calls = written_calls()
    assert len(calls) >= 15
    for call in calls:
        words = shlex.split(call)
        assert _parser(words).parse_args(words).run, call


# ------------------------------------------------------------ terminals


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_an_odd_terminal_breaks_nothing(replay: Any, program: Any, encoding: str) -> None:
    rows = "".join(f"2026-06-08T{h:02d}:{m:02d}Z,7.{m % 10}\n" for h in range(24) for m in range(0, 60, 5))
    assert replay("time,ph\n" + rows, "--store", "pond.db").status == 0
    for words in (["review"], ["status"], ["replay", "in.csv"]):
        found = program(*words, PYTHONIOENCODING=encoding, LC_ALL="C", FORCE_COLOR="1")
        assert found.err == "", words
        assert "\x1b" not in found.out
        assert "?" not in found.out


@pytest.mark.parametrize(
    ("line", "status", "err"),
    [
        ("dawnline replay --json in.csv | head -1 > /dev/null; exit ${PIPESTATUS[0]}", 1, ""),
        ("dawnline --help | true", 0, ""),
        ("dawnline probes list >&-", 0, ""),
        ("dawnline probes list > /dev/full", 1, "dawnline: the output cannot be written: No space left on device\n"),
        ("dawnline status 2>&-", 1, ""),
    ],
)
def test_an_output_that_is_closed_or_full_makes_no_noise(
    folder: Path, shell: Any, line: str, status: int, err: str
) -> None:
    rows = "".join(f"2026-06-{d:02d}T{h:02d}:{m:02d}Z,wet\n" for d in (8, 9) for h in range(24) for m in range(60))
    (folder / "in.csv").write_text("time,ph\n" + rows, encoding="utf-8")
    found = shell(line)
    assert (found.status, found.err, found.out) == (status, err, "")


def test_a_reader_that_leaves_early_has_its_lines(folder: Path, shell: Any) -> None:
    rows = "".join(f"2026-06-08T{h:02d}:{m:02d}Z,wet\n" for h in range(24) for m in range(60))
    (folder / "in.csv").write_text("time,ph\n" + rows, encoding="utf-8")
    found = shell("dawnline replay --json in.csv | head -1")
    assert found.out.startswith('{"version": 1, "event": "problem", "row": 2')
    assert found.err == ""


def test_a_fault_of_our_own_shows_no_traceback(call: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dawnline.cli.status.find_present", lambda _: 1 / 0)
    found = call("status")
    assert found.status == 1
    assert found.err.startswith("dawnline: a fault of dawnline itself (ZeroDivisionError")
    assert "Traceback" not in found.err


def test_looking_loads_nothing_heavy(folder: Path, replay: Any) -> None:
    replay("time,ph\n2026-06-08T00:00Z,7.1\n", "--store", "pond.db")
    for words in (["status"], ["alarms", "list"], ["review"], ["replay", "in.csv"]):
        code = (
            f"import sys; from dawnline.cli import main; main({words});"
            f"print('loaded:', [m for m in {HEAVY} if m in sys.modules], file=sys.stderr)"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stderr.strip() == "loaded: []", words
