"""The command line as a newcomer meets it."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from dawnline import __version__
from dawnline.cli import COMMANDS, _parser, main

ROOT = Path(__file__).parents[2]
CONFIG = """
[pond]
name = "Heron Lane"
latitude = 47.95
longitude = 8.21
timezone = "Europe/Berlin"
[store]
path = "pond.db"
[[probes]]
name = "ph"
quantity = "ph"
link = "serial"
port = "/dev/no-such-port"
"""


def run(*words: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {key: value for key, value in os.environ.items() if not key.startswith("DAWNLINE_")}
    return subprocess.run(
        [sys.executable, "-m", "dawnline.cli", *words],
        cwd=cwd, env=clean | environment, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(["--version"])
    assert done.value.code == 0
    assert capsys.readouterr().out.strip() == f"dawnline {__version__}"


@pytest.mark.parametrize("words", [[name] for name in COMMANDS] + [[]])
def test_help_of_every_command(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main([*words, "--help"])
    assert done.value.code == 0
    assert len(capsys.readouterr().out) > 200


@pytest.mark.parametrize("words", [["nonsense"], [], ["status", "--nonsense"], ["alarms"], ["alarms", "shelve", "1"]])
def test_a_wrong_call_is_status_two(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(words)
    assert done.value.code == 2
    assert "usage" in capsys.readouterr().err


@pytest.mark.parametrize("words", [["status"], ["review"], ["check"], ["run"], ["alarms", "list"], ["logbook", "list"]])
def test_without_a_configuration_the_remedy_is_named(words: list[str], tmp_path: Path) -> None:
    found = run(*words, cwd=tmp_path)
    assert found.returncode == 2
    assert "dawnline.toml: found no such file" in found.stderr
    assert "--config" in found.stderr


@pytest.mark.parametrize("words", [["status"], ["review"], ["alarms", "list"], ["alarms", "acknowledge", "1"]])
def test_without_a_store_it_says_so(words: list[str], tmp_path: Path) -> None:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    found = run(*words, cwd=tmp_path)
    assert found.returncode == 1
    assert "pond.db" in found.stderr
    assert "Traceback" not in found.stderr


def test_the_configuration_may_be_named_in_three_ways(tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(CONFIG, encoding="utf-8")
    for words, environment in (
        (["--config", "other.toml", "probes", "list"], {}),
        (["probes", "--config", "other.toml", "list"], {}),
        (["probes", "list"], {"DAWNLINE_CONFIG": "other.toml"}),
    ):
        found = run(*words, cwd=tmp_path, **environment)
        assert found.returncode == 0, found.stderr
        assert "/dev/no-such-port" in found.stdout


def test_every_line_of_the_readme_is_a_call_that_parses() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    calls = re.findall(r"`dawnline ([^`]+)`", text)
    assert len(calls) >= 12
    for call in calls:
        words = shlex.split(call)
        assert _parser(words).parse_args(words).run, call


def test_an_odd_terminal_breaks_nothing(tmp_path: Path) -> None:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    rows = "".join(f"2026-06-08T{h:02d}:{m:02d}Z,7.{m % 10}\n" for h in range(24) for m in range(0, 60, 5))
    (tmp_path / "in.csv").write_text("time,ph\n" + rows, encoding="utf-8")
    ascii_only = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    assert run("replay", "in.csv", "--store", "pond.db", cwd=tmp_path, **ascii_only).returncode == 0
    found = run("review", cwd=tmp_path, **ascii_only)
    assert (found.returncode, found.stderr) == (0, "")
    assert "\x1b" not in found.stdout
    assert "?" not in found.stdout


def test_a_reader_that_leaves_early_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    rows = "".join(f"2026-{m:02d}-{d:02d}T00:00Z,7.0\n" for m in range(1, 13) for d in range(1, 29)) * 3
    (tmp_path / "in.csv").write_text("time,ph\n" + rows, encoding="utf-8")
    line = f"{sys.executable} -m dawnline.cli replay --json in.csv | head -1"
    found = subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert found.stdout.startswith('{"version": 1')
    assert found.stderr == ""


# ------------------------------------------------------------ check


def test_check_names_what_is_not_well(tmp_path: Path) -> None:
    config = (
        CONFIG + '[mqtt]\nhost = "127.0.0.1"\nport = 1\n[[people]]\nname = "Ada"\naddresses = ["env:NO_SUCH_ADDRESS"]\n'
    )
    (tmp_path / "dawnline.toml").write_text(config, encoding="utf-8")
    found = run("check", cwd=tmp_path)
    assert found.returncode == 1
    wrong = [line for line in found.stdout.splitlines() if line.startswith("NOT WELL")]
    assert any("port /dev/no-such-port: there is no such device" in line for line in wrong)
    assert any("broker 127.0.0.1:1: no answer" in line for line in wrong)
    assert any("person Ada" in line and "NO_SUCH_ADDRESS" in line for line in wrong)
    assert "Traceback" not in found.stderr


def test_check_asks_the_broker(tmp_path: Path, mosquitto) -> None:  # type: ignore[no-untyped-def]
    broker = mosquitto(password=("dawn", "secret"))
    (tmp_path / "good").write_text("secret", encoding="utf-8")
    (tmp_path / "bad").write_text("wrong", encoding="utf-8")
    for name, mark in (("good", "well    "), ("bad", "NOT WELL")):
        section = f'[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\nusername = "dawn"\npassword = "file:{name}"\n'
        (tmp_path / "dawnline.toml").write_text(CONFIG + section, encoding="utf-8")
        out = run("check", cwd=tmp_path).stdout
        assert f"{mark}  broker 127.0.0.1:{broker.port}" in out, out


class Hook(BaseHTTPRequestHandler):
    """Keeps what it is told."""

    bodies: list[bytes] = []  # noqa: RUF012 - one receiver in this file

    def do_POST(self) -> None:
        Hook.bodies.append(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        return


def test_check_sends_a_message_marked_test(tmp_path: Path) -> None:
    Hook.bodies.clear()
    server = ThreadingHTTPServer(("127.0.0.1", 0), Hook)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        addresses = f'["console:", "http://127.0.0.1:{server.server_address[1]}/"]'
        people = f'[[people]]\nname = "Ada"\naddresses = {addresses}\n'
        (tmp_path / "dawnline.toml").write_text(CONFIG + people, encoding="utf-8")
        found = run("check", "--notify", "--as", "ph-crash", cwd=tmp_path)
    finally:
        server.shutdown()
        server.server_close()
    assert "TEST Heron Lane: pH crash" in found.stdout
    assert found.stdout.count("test message to Ada") == 2
    assert b"TEST" in Hook.bodies[0]
    assert run("check", "--notify", "--as", "nonsense", cwd=tmp_path).returncode == 2


def test_looking_loads_nothing_heavy(tmp_path: Path) -> None:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    code = (
        "import sys; from dawnline.cli import main; main(['status']);"
        "heavy = ('paho', 'serial', 'apprise', 'influxdb_client', 'urllib3', 'smtplib');"
        "print(sorted(m for m in heavy if m in sys.modules))"
    )
    out = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    assert out.strip().endswith("[]")
