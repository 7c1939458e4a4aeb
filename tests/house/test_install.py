"""`systemd/install` over a running watch, in a made-up machine: every command of the system is a stand-in that notes
how it was called.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "systemd" / "install"
STANDS_IN = """#!/bin/sh
echo "$(basename "$0") $*" >>"$LOG"
"""
SYSTEMCTL = (
    STANDS_IN
    + """case $1 in is-enabled) exit "${DISABLED:-1}" ;; esac
"""
)
RUNUSER = """#!/bin/sh
shift 3
exec "$@"
"""
INSTALL = """#!/bin/sh
for last; do :; done
case $* in *"-d "*) mkdir -p "$last" ;; *) cp "$(eval echo "\\${$(($# - 1))}")" "$last" ;; esac
"""
DATE = """#!/bin/sh
echo >>"$STUBS/seconds"
echo "2026$(wc -l <"$STUBS/seconds")"
"""
PROGRAM = """#!/bin/sh
echo "$(basename "$0") $*" >>"$LOG"
case $* in *"store backup"*) for last; do :; done; echo backup >"$last" ;; *) echo "dawnline 0" ;; esac
"""
PYTHON = """#!/bin/sh
case $2 in
venv) mkdir -p "$3/bin"; cp "$0" "$3/bin/python"; cp "$STUBS/program" "$3/bin/dawnline" ;;
pip) echo pip >>"$LOG"; exit "${PIP:-0}" ;;
*load*) echo "$STORE" ;;
esac
"""


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A machine on which the watch runs; its root is `tmp_path`."""
    stubs = tmp_path / "stubs"
    stubs.mkdir()
    written = {"systemctl": SYSTEMCTL, "runuser": RUNUSER, "install": INSTALL, "program": PROGRAM, "python3.13": PYTHON}
    written["date"] = DATE
    for name in ("getent", "usermod", "useradd", "chown"):
        written[name] = STANDS_IN
    for name, text in written.items():
        (stubs / name).write_text(text)
        (stubs / name).chmod(0o755)
    for folder in ("opt", "etc/dawnline", "etc/systemd/system", "run/systemd/system", "var/lib/dawnline"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "etc/dawnline/dawnline.toml").touch()
    (tmp_path / "var/lib/dawnline/pond.db").touch()
    (tmp_path / "systemd").mkdir()
    text = SCRIPT.read_text(encoding="utf-8").replace("((EUID == 0)) ||", "true ||")
    for place in ("/opt/", "/etc/", "/var/lib/", "/run/systemd/"):
        text = text.replace(place, f"{tmp_path}{place}")
    (tmp_path / "systemd/install").write_text(text, encoding="utf-8")
    for unit in SCRIPT.parent.glob("*.service"):
        (tmp_path / "systemd" / unit.name).touch()
    assert run(tmp_path).returncode == 0
    (tmp_path / "log").unlink()
    return tmp_path


def run(root: Path, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    stubs = root / "stubs"
    environment = {
        "PATH": f"{stubs}:{os.environ['PATH']}", "LOG": str(root / "log"), "STUBS": str(stubs),
        "STORE": str(root / "var/lib/dawnline/pond.db"),
    }  # fmt: skip
    command = ["bash", str(root / "systemd/install"), *words]
    return subprocess.run(command, env=environment | more, capture_output=True, text=True, check=False)


def log(root: Path) -> str:
    return (root / "log").read_text(encoding="utf-8")


def test_an_upgrade_that_fails_leaves_the_watch_as_it_is(machine: Path) -> None:
    before = (machine / "opt/dawnline").resolve()
    found = run(machine, PIP="1")
    assert found.returncode == 1
    assert "what was there is untouched" in found.stderr
    assert "systemctl stop" not in log(machine)
    assert (machine / "opt/dawnline").resolve() == before
    assert not (machine / "var/lib/dawnline/before-upgrade.db").exists()


def test_an_upgrade_stops_the_watch_only_once_the_new_program_is_ready(machine: Path) -> None:
    before = (machine / "opt/dawnline").resolve()
    found = run(machine)
    assert found.returncode == 0, found.stderr
    order = [log(machine).index(what) for what in ("pip", "store backup", "systemctl stop", "systemctl restart")]
    assert order == sorted(order)
    assert (machine / "opt/dawnline").resolve() != before
    assert (machine / "opt/dawnline.d/before").resolve() == before


def test_what_fails_while_the_watch_is_stopped_starts_it_again(machine: Path) -> None:
    (machine / "systemd/dawnline.service").unlink()
    assert run(machine).returncode != 0
    assert log(machine).splitlines()[-1] == "systemctl start dawnline.service"


def test_a_link_left_by_a_run_that_was_cut_short_is_no_obstacle(machine: Path) -> None:
    (machine / "opt/dawnline.new").symlink_to((machine / "opt/dawnline").resolve())
    before = (machine / "opt/dawnline").resolve()
    assert run(machine).returncode == 0
    assert (machine / "opt/dawnline").resolve() != before


def test_back_returns_to_program_and_store(machine: Path) -> None:
    before = (machine / "opt/dawnline").resolve()
    assert run(machine).returncode == 0
    assert run(machine, "--back").returncode == 0
    assert (machine / "opt/dawnline").resolve() == before
    assert (machine / "var/lib/dawnline/pond.db").read_text(encoding="utf-8") == "backup\n"
    assert (machine / "var/lib/dawnline/pond.db.after").exists()


def test_back_brings_the_units_of_the_program_before_and_starts_the_page_too(machine: Path) -> None:
    units = machine / "etc/systemd/system"
    for name in ("dawnline.service", "dawnline-page.service"):
        (units / name).write_text("# of the program before\n", encoding="utf-8")
    assert run(machine).returncode == 0
    assert (units / "dawnline-page.service").read_text(encoding="utf-8") == ""
    (machine / "log").unlink()
    assert run(machine, "--back", DISABLED="0").returncode == 0
    for name in ("dawnline.service", "dawnline-page.service"):
        assert (units / name).read_text(encoding="utf-8") == "# of the program before\n"
    order = [log(machine).index(what) for what in ("daemon-reload", "start dawnline.service", "start dawnline-page")]
    assert order == sorted(order)


def test_a_program_installed_by_hand_is_kept_to_go_back_to_until_the_run_after_next(machine: Path) -> None:
    program, releases = machine / "opt/dawnline", machine / "opt/dawnline.d"
    by_hand = releases / "by-hand"
    (releases / "before").unlink(missing_ok=True)
    made = program.resolve()
    program.unlink()
    made.rename(program)
    (program / "bin/dawnline").write_text("#!/bin/sh\nexit 2\n")  # it has no command for a backup
    assert run(machine).returncode == 0
    assert program.is_symlink()
    assert (releases / "before").resolve() == by_hand
    assert (machine / "var/lib/dawnline/before-upgrade.db").exists()
    assert run(machine, "--back").returncode == 0
    assert program.resolve() == by_hand
    assert run(machine).returncode == 0
    assert by_hand.exists()
    assert run(machine).returncode == 0
    assert not by_hand.exists()
