"""The service on a small file system of its own, filled to the brim, emptied, made read-only, put right."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

import pytest

from .conftest import Pond

Eventually = Callable[..., None]
ADA = '[[people]]\nname = "Ada"\naddresses = ["console:"]\n[limits]\nph_low = 6.5\n'


def mounted(folder: Path, *words: str) -> bool:
    """Whether this machine lets us mount; it takes root."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    return subprocess.run(["mount", *words, str(folder)], capture_output=True, check=False).returncode == 0


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A folder on a file system of 2 MB."""
    folder = tmp_path / "card"
    folder.mkdir()
    if not mounted(folder, "-t", "tmpfs", "-o", "size=2m", "tmpfs"):
        pytest.skip("cannot mount a small file system here: run as root")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


class Card(Pond):
    """A pond whose folder is a card; log and runtime folder lie elsewhere, as they do on a board."""

    said = count = 0

    def __init__(self, folder: Path, elsewhere: Path) -> None:
        self.elsewhere = elsewhere
        super().__init__(folder, ADA)
        shutil.rmtree(folder / "runtime")
        (elsewhere / "runtime").mkdir()
        self.environment["RUNTIME_DIRECTORY"] = str(elsewhere / "runtime")

    def watch(self, **environment: str) -> None:
        """Start the service."""
        words = ["-m", "dawnline.cli", "--config", str(self.config), "run"]
        with (self.elsewhere / "log").open("ab") as log, (self.elsewhere / "told").open("ab") as told:
            self.service = subprocess.Popen(
                [os.sys.executable, *words], env=self.environment | environment, stdout=told, stderr=log, text=True
            )

    @property
    def log(self) -> str:
        return (self.elsewhere / "log").read_text(encoding="utf-8")

    @property
    def told(self) -> str:
        return (self.elsewhere / "told").read_text(encoding="utf-8")

    def measure(self, level: float = 7.0) -> None:
        """A reading of a value of its own."""
        self.said += 1 if self.said % 10 < 9 else 2  # a last digit of 0 is not written
        self.count += 1
        self.say(f"ph={level + self.said * 1e-6:.6f} temp=18.1\n".encode())

    def fill(self) -> None:
        """Take all the room there is."""
        with (self.folder / "filler").open("ab", buffering=0) as filler:
            for size in (4096, 1):
                try:
                    while True:
                        filler.write(b"x" * size)
                except OSError:
                    continue

    def recorded(self) -> list[str]:
        out = self.elsewhere / "out.csv"
        out.unlink(missing_ok=True)
        assert self.command("readings", "--csv", str(out)).returncode == 0
        return re.findall(r"\d\.\d{6}", out.read_text(encoding="utf-8"))


def test_a_full_card_and_then_room(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    pond = Card(small, tmp_path)
    pond.plug()
    pond.watch(DAWNLINE_CLOCK_RATE="300")
    try:
        eventually(lambda: "connected" in pond.log, "connected", 30.0)
        pond.say(b"\n")  # the rest of a line is never believed

        def until(seen: Callable[[], bool], level: Callable[[], float] = lambda: 7.0) -> Callable[[], bool]:
            def turn() -> bool:
                pond.measure(level())
                return seen()

            return turn

        eventually(until(lambda: pond.said > 20), "some readings")
        pond.fill()
        eventually(until(lambda: "store-failing" in pond.log), "a refusal", 30.0)
        falling = iter(max(6.1, 7 - n / 200) for n in range(10_000))
        eventually(until(lambda: "pH is low" in pond.told, lambda: next(falling)), "ph-low is told", 60.0)
        eventually(until(lambda: '"alarm": "store-failing", "change": "raised"' in pond.log), "its alarm", 30.0)
        status = pond.command("status")
        assert status.returncode == 1
        assert "the disk is full" in status.stdout
        (small / "filler").unlink()
        eventually(until(lambda: "store-well-again" in pond.log), "all written", 30.0)
        assert pond.stop() == 0
    finally:
        if pond.service is not None:
            pond.stop(signal.SIGKILL)
        os.close(pond.master)
        print(pond.log)
    assert "Traceback" not in pond.log
    assert len(pond.recorded()) == pond.count
    letters = re.findall(r"Heron Lane: .*", pond.told)
    assert len(set(letters)) == len(letters)


def test_a_start_on_a_full_card(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    """After a stop in good order, which has removed SQLite's own files."""
    pond = Card(small, tmp_path)
    pond.plug()
    pond.watch()
    try:
        eventually(lambda: "connected" in pond.log, "connected", 30.0)
        assert pond.stop() == 0
        pond.fill()
        before = pond.log.count("watching")
        pond.watch(DAWNLINE_CLOCK_RATE="300")
        eventually(lambda: pond.log.count("watching") > before, "watching on a full card", 30.0)
        eventually(lambda: '"alarm": "store-failing", "change": "raised"' in pond.log, "its alarm", 30.0)
        (small / "filler").unlink()
        eventually(lambda: "store-well-again" in pond.log, "all written", 30.0)
        assert pond.stop() == 0
    finally:
        if pond.service is not None:
            pond.stop(signal.SIGKILL)
        os.close(pond.master)
        print(pond.log)
    assert "Traceback" not in pond.log


def test_killed_while_the_card_is_full(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    pond = Card(small, tmp_path)
    pond.plug()
    pond.watch(DAWNLINE_CLOCK_RATE="300")
    try:
        eventually(lambda: "connected" in pond.log, "connected", 30.0)
        pond.say(b"\n")  # the rest of a line is never believed

        def refused() -> bool:
            pond.measure()
            if pond.said == 21:
                pond.fill()
            return "store-failing" in pond.log

        eventually(refused, "a refusal", 30.0)
        pond.stop(signal.SIGKILL)
        before = pond.log.count("watching")
        pond.watch()  # still full
        eventually(lambda: pond.log.count("watching") > before, "watching again, on a full card", 30.0)
        (small / "filler").unlink()
        pond.measure()
        assert pond.stop() == 0
        assert pond.command("store", "verify").returncode == 0
    finally:
        if pond.service is not None:
            pond.stop(signal.SIGKILL)
        os.close(pond.master)
        print(pond.log)
    assert "Traceback" not in pond.log


def test_a_card_that_turns_read_only(
    tmp_path: Path, eventually: Eventually, script: Callable[[str], ModuleType]
) -> None:
    """As ext4 makes it after an error: it stays so until it is checked."""
    try:
        card = script("card").Card(tmp_path, 8)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("cannot mount an image here: run as root")
    pond = Card(card.path, tmp_path)
    pond.plug()
    pond.watch(DAWNLINE_CLOCK_RATE="300")
    try:
        eventually(lambda: "connected" in pond.log, "connected", 30.0)

        def raised() -> bool:
            pond.measure()
            if pond.count == 100:
                card.fail()
            return '"alarm": "store-failing", "change": "raised"' in pond.log

        eventually(raised, "its alarm", 60.0)
        assert pond.stop() == 1
    finally:
        if pond.service is not None:
            pond.stop(signal.SIGKILL)
        os.close(pond.master)
        print(pond.log)
        subprocess.run(["umount", "--lazy", str(card.path)], check=True)
    assert "are lost with this end" in pond.log.splitlines()[-1]
    assert "Traceback" not in pond.log
