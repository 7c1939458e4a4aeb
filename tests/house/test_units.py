"""The systemd units: no key that systemd does not know, little that an intruder could reach; scripts that parse."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from ..machine import program

FOLDER = Path(__file__).parents[2] / "systemd"
UNITS = sorted(path.name for path in FOLDER.glob("*.service"))
MOST = 20  # exposure times ten, as --threshold takes it


def analyze(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([program("systemd-analyze"), *arguments], capture_output=True, text=True, check=False)


def test_the_units_are_found() -> None:
    assert UNITS == ["dawnline-page.service", "dawnline.service"]


@pytest.mark.parametrize("unit", UNITS)
def test_no_memory_image_is_left_by_a_crash(unit: str) -> None:
    assert "LimitCORE=0" in (FOLDER / unit).read_text().splitlines()


@pytest.mark.parametrize("unit", UNITS)
def test_it_is_up_when_it_says_so_and_started_again_for_ever(unit: str) -> None:
    keys = dict(line.split("=", 1) for line in (FOLDER / unit).read_text().splitlines() if line[:1].isalpha())
    assert (keys["Type"], keys["NotifyAccess"], keys["StartLimitIntervalSec"]) == ("notify", "main", "0")
    assert int(keys["WatchdogSec"]) >= 60
    assert keys["Restart"] in ("always", "on-failure")


@pytest.mark.parametrize("unit", UNITS)
def test_systemd_knows_every_key(unit: str, tmp_path: Path) -> None:
    text = (FOLDER / unit).read_text()
    lines = [f"ExecStart={program('true')}" if line.startswith("ExecStart=") else line for line in text.splitlines()]
    lines = [line for line in lines if not line.startswith(("User=", "SupplementaryGroups="))]  # not of this machine
    (tmp_path / unit).write_text("\n".join(lines))
    found = analyze("--recursive-errors=yes", "verify", str(tmp_path / unit))
    ours = [line for line in found.stderr.splitlines() if unit in line]
    assert ours == []


@pytest.mark.parametrize("name", ["many-ponds.conf", "many-ponds-page.conf"])
def test_systemd_takes_the_settings_for_many_ponds(tmp_path: Path, name: str) -> None:
    (tmp_path / "x.service").write_text("[Service]\nExecStart=/bin/false\n")
    (tmp_path / "x.service.d").mkdir()
    text = (FOLDER / name).read_text().replace("/opt/dawnline/bin/dawnline", "/bin/true")
    (tmp_path / "x.service.d" / "many.conf").write_text(text)
    found = analyze("--recursive-errors=yes", "verify", str(tmp_path / "x.service"))
    assert [line for line in found.stderr.splitlines() if "x.service" in line or "many.conf" in line] == []
    (tmp_path / "x.service.d" / "many.conf").write_text(text + "TaskMax=1\n")
    assert "TaskMax" in analyze("--recursive-errors=yes", "verify", str(tmp_path / "x.service")).stderr


def test_a_key_that_is_none_would_be_found(tmp_path: Path) -> None:
    (tmp_path / "x.service").write_text("[Service]\nExecStart=/bin/true\nProtectEverything=yes\n")
    assert "ProtectEverything" in analyze("--recursive-errors=yes", "verify", str(tmp_path / "x.service")).stderr


@pytest.mark.parametrize("unit", UNITS)
def test_exposure(unit: str) -> None:
    found = analyze("security", "--no-pager", "--offline=true", f"--threshold={MOST}", str(FOLDER / unit))
    assert found.returncode == 0, found.stdout[-200:]


@pytest.mark.parametrize("script", ["install", "remove"])
def test_scripts(script: str) -> None:
    path = FOLDER / script
    assert os.access(path, os.X_OK)
    assert subprocess.run(["bash", "-n", str(path)], check=False).returncode == 0
    refused = subprocess.run(["bash", str(path), "--nonsense"], capture_output=True, text=True, check=False)
    assert refused.returncode != 0
    assert "usage" in refused.stderr or "needs root" in refused.stderr
