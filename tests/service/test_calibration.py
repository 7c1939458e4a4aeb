"""Calibration at the filter, end to end: a probe on a pseudo-terminal, the real service, the command at a pipe."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from ..configuration import POND, serial
from ..machine import WAIT_S, until

CONFIGURATION = (
    POND
    + serial("ph", "electrode_mv", "PORT", 'key = "mv"', 'temperature = "water"')
    + serial("water", "temperature", "PORT", 'key = "temp"')
)
RATE = "60"  # a pond minute in a second: the present is written once a second, so a buffer takes four or five


class Glass:
    """An electrode that stands in something, and says so ten times a second."""

    def __init__(self, say: Callable[[bytes], None]) -> None:
        self.ph, self.slope, self.celsius = 7.4, 0.96, 20.0
        self._say = say
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._speak)
        self._thread.start()

    def _speak(self) -> None:
        while not self._over.wait(0.1):
            mv = -8.0 - self.slope * 0.198416 * (self.celsius + 273.15) * (self.ph - 7.0)
            try:
                self._say(f"mv={mv:.2f} temp={self.celsius:.1f}\n".encode())
            except OSError:
                return

    def end(self) -> None:
        self._over.set()
        self._thread.join(5)


class Keeper:
    """The command, at a pipe."""

    def __init__(self, pond: Any, *words: str) -> None:
        self.process = subprocess.Popen(
            pond.words("probes", *words), env=pond.environment | {"PYTHONUNBUFFERED": "1"},
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.heard = ""

    def hear(self, text: str) -> None:
        """Read until this has been said."""
        assert self.process.stdout is not None
        end = time.monotonic() + WAIT_S
        while text not in self.heard:
            assert time.monotonic() < end, self.heard
            if select.select([self.process.stdout], [], [], 0.2)[0]:
                data = os.read(self.process.stdout.fileno(), 4096)
                assert data, self.heard
                self.heard += data.decode()

    def say(self, line: str) -> None:
        """Type one line; what was heard before counts no more."""
        assert self.process.stdin is not None
        self.heard = ""
        self.process.stdin.write(f"{line}\n".encode())
        self.process.stdin.flush()

    def ended(self) -> tuple[int, str]:
        """Exit status, and all it said since the last line."""
        out = self.process.communicate(timeout=WAIT_S)[0].decode()
        return self.process.returncode, self.heard + out


@pytest.fixture
def pond(make_pond: Any) -> Iterator[Any]:
    made = make_pond()
    made.config.write_text(CONFIGURATION.replace("PORT", str(made.cable.path)), encoding="utf-8")
    made.plug()
    made.glass = Glass(made.say)
    made.start(DAWNLINE_CLOCK_RATE=RATE)
    until(lambda: ph_of(made).get("value") is not None)
    yield made
    made.glass.end()


def ph_of(pond: Any) -> dict[str, Any]:
    found: dict[str, Any] = pond.status().get("probes", {}).get("ph", {})
    return found


def held(pond: Any) -> Any:
    return ph_of(pond)["calibration"]["time"]


def test_the_way_through_and_out_at_every_step(pond: Any) -> None:
    """Stopped at each step nothing has changed and the probe is back; then refused; then kept; then checked."""
    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7", "--for", "4h")
    keeper.hear("Temperature of the buffer in degC [20.0, by water")
    assert ph_of(pond)["out_until"] is not None
    keeper.say("q")
    status, said = keeper.ended()
    assert (status, "Nothing has been changed. ph: back in service" in said) == (1, True), said
    assert ph_of(pond)["out_until"] is None

    pond.glass.ph = 7.02  # what buffer 7.00 has at 20 degC
    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7", "--for", "4h")
    keeper.hear("Temperature")
    keeper.say("warm")
    keeper.hear("expected a number of degrees")
    keeper.say("70")
    keeper.hear("known from 0 to 50 degC")
    keeper.say("20")
    keeper.hear("buffer 7.00 has pH 7.02 at 20.0 degC (Foxboro MI 611-211)")
    keeper.process.send_signal(signal.SIGINT)
    status, said = keeper.ended()
    assert (status, "Nothing has been changed. ph: back in service" in said) == (1, True), said

    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7", "--for", "4h")
    keeper.hear("Temperature")
    keeper.say("")
    keeper.hear("Keep it? [y/N]")
    assert "before: never calibrated" in keeper.heard
    assert "now:    slope 100.0 %, offset -8.0 mV at pH 7" in keeper.heard
    keeper.say("n")
    keeper.hear("Enter when it hangs there")
    keeper.say("")
    status, said = keeper.ended()
    assert (status, "Nothing has been changed" in said) == (1, True), said
    assert held(pond) is None

    kept = Keeper(pond, "calibrate", "ph", "--for", "4h")
    kept.hear("into buffer 7.00")
    kept.hear("Temperature")
    kept.say("")
    kept.hear("into buffer 10.01")
    kept.hear("Temperature")
    pond.glass.ph, pond.glass.slope = 10.06, 0.80
    kept.say("")
    kept.hear("refused: the slope is 79.")
    kept.hear("Enter when it hangs there")
    kept.say("")
    status, said = kept.ended()
    assert (status, "Nothing has been changed. ph: back in service" in said) == (1, True), said
    assert held(pond) is None


def test_kept_checked_listed(pond: Any) -> None:
    pond.glass.ph = 7.02
    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7,10", "--for", "4h")
    keeper.hear("Temperature")
    keeper.say("20")
    keeper.hear("into buffer 10.01")
    pond.glass.ph = 10.06
    keeper.hear("Temperature")
    keeper.say("20")
    keeper.hear("Keep it? [y/N]")
    keeper.say("y")
    keeper.hear("in force: slope 96.")
    keeper.hear("Enter when it hangs there")
    pond.glass.ph = 7.4
    keeper.say("")
    status, said = keeper.ended()
    assert (status, "back in service" in said, "Nothing" in said) == (0, True, False), said
    until(lambda: abs(ph_of(pond)["ph"] - 7.4) < 0.02)
    assert held(pond) is not None

    pond.glass.ph = 7.22
    check = Keeper(pond, "check", "ph", "--for", "4h")
    check.hear("Temperature")
    check.say("20")
    check.hear("noted: it reads pH 7.22 in a buffer of 7.02 (+0.20)")
    check.say("")
    assert check.ended()[0] == 0
    listed = pond.command("probes", "list").stdout
    assert ": slope 96." in listed
    assert "+0.20 pH at 7.02" in listed
    history = pond.command("probes", "history", "ph").stdout
    assert "calibrated    slope 96." in history
    assert "buffer-check  it reads pH 7.22" in history
    assert "cannot say yet" in history
    assert "pH 7." in pond.command("status").stdout

    assert pond.stop() == 0  # and all of it is still known in the next run
    pond.start(DAWNLINE_CLOCK_RATE=RATE)
    until(lambda: ph_of(pond).get("value") is not None)
    assert ph_of(pond)["calibration"]["slope"] == pytest.approx(96.0, abs=0.3)


def test_a_lost_connection_gives_the_probe_back(pond: Any) -> None:
    """An ssh session that breaks off: SIGHUP, and nobody to write to."""
    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7", "--for", "4h")
    keeper.hear("Temperature")
    assert ph_of(pond)["out_until"] is not None
    assert keeper.process.stdout is not None
    keeper.process.stdout.close()
    keeper.process.send_signal(signal.SIGHUP)
    assert keeper.process.wait(WAIT_S) == 1
    assert keeper.process.stdin is not None
    keeper.process.stdin.close()
    until(lambda: ph_of(pond)["out_until"] is None)
    assert held(pond) is None


def test_after_a_power_cut_in_the_middle_it_comes_back_by_itself_and_reminds(pond: Any) -> None:
    keeper = Keeper(pond, "calibrate", "ph", "--buffers", "7", "--for", "5m")
    keeper.hear("Temperature")
    pond.kill()
    keeper.process.kill()
    keeper.ended()
    pond.start(DAWNLINE_CLOCK_RATE=RATE)
    until(lambda: ph_of(pond).get("value") is not None and ph_of(pond)["out_until"] is None)
    until(lambda: any("by itself" in alarm["text"] for alarm in pond.status()["alarms"]))
    assert held(pond) is None


def test_a_pipe_that_says_it_all_at_once(pond: Any) -> None:
    pond.glass.ph = 7.02
    keeper = Keeper(pond, "check", "ph", "--for", "4h")
    status, said = (keeper.process.communicate(b"20\n\n", timeout=WAIT_S), keeper.process.returncode)[::-1]
    assert (status, b"noted: it reads pH 7." in said[0]) == (0, True), said


def test_without_a_keyboard_nothing_happens(pond: Any) -> None:
    line = f"{sys.executable} -m dawnline.cli --config {pond.config} probes check ph <&-"
    found = subprocess.run(
        ["sh", "-c", line], env=pond.environment, capture_output=True, text=True, timeout=WAIT_S, check=False
    )
    assert found.returncode == 1
    assert "there is no more input" in found.stdout
    assert "Nothing has been changed. ph: back in service" in found.stdout
    assert found.stderr == ""


def test_without_a_service_it_says_so(make_pond: Any) -> None:
    pond = make_pond()
    found = pond.command("probes", "calibrate", "ph")
    assert found.returncode == 1
    assert "the service does not run" in found.stderr


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("calibrate", "water"), "expected the name of a pH probe: ph"),
        (("calibrate", "ph", "--buffers", "7,phosphate"), "less than 2 pH apart"),
        (("calibrate", "ph", "--buffers", "4,7,10,borax"), "found 4"),
        (("check", "ph", "--buffer", "pond"), "no buffer is known as 'pond'"),
        (("history", "water"), "expected the name of a pH probe: ph"),
    ],
)
def test_calls_that_cannot_be_followed(make_pond: Any, words: tuple[str, ...], expected: str) -> None:
    found = make_pond().command("probes", *words)
    assert found.returncode == 2
    assert expected in found.stderr
