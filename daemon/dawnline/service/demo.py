"""The demonstration: the simulator's pond, the real service on a real pseudo-terminal, and a look back.

Nothing here is a short cut: the simulator speaks lines into the terminal as a probe would, the service reads, stores,
judges and tells as it would any night. Only pond time runs faster.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from datetime import datetime
from pathlib import Path
from typing import IO, Final, NamedTuple

from dawnline.duration import HOUR_MS, iso, parse_time, show_duration
from dawnline.errors import DawnlineError, SettingsError
from dawnline.event import Day, Transition
from dawnline.reading import Flag, Reading
from dawnline.review.figure_night import night_svg
from dawnline.review.text import alarm_list, day_table
from dawnline.service import now_file
from dawnline.service.clock import VARIABLE, wall_s
from dawnline.settings import Settings, load
from dawnline.store.reader import Reader

SCENARIO: Final = "buffer-runs-out"
CALM_DAYS: Final = 9.875  # until nine in the evening of the tenth day
EVENING: Final = "2026-06-13T21:00:00+02:00"
MORNING: Final = "2026-06-14T07:00:00+02:00"
HEAD_START_S: Final = 4.0  # machine time in which simulator and service get ready
TOLD: Final = ("night-slide", "sudden-drop", "ph-low", "ph-crash")

CONFIGURATION: Final = """# Written by `dawnline demo`.
[pond]
name = "Heron Lane"
volume_litres = 14000
surface_m2 = 12.0
latitude = 47.95
longitude = 8.21
timezone = "Europe/Berlin"

[store]
path = "heron-lane.db"

[[probes]]
name = "ph"
quantity = "ph"
link = "serial"
port = "{port}"

[[probes]]
name = "water"
quantity = "temperature"
link = "serial"
port = "{port}"
key = "temp"

[[people]]
name = "Keeper"
addresses = ["console:"]
"""


class Night(NamedTuple):
    """What came of the night: its good pH readings, alarms, days, and when pH first passed the lower limit."""

    readings: list[Reading]
    before: list[Transition]
    transitions: list[Transition]
    days: list[Day]
    crossed_at: int | None

    @property
    def told_at(self) -> int | None:
        """When the first alarm about a falling pH was raised."""
        return next((t.at for t in self.transitions if t.alarm in TOLD and t.change == "raised"), None)


def demonstrate(seed: int, seconds: float, folder: Path | None) -> int:
    """Show it; 0 where the keeper was told before pH passed the limit, else 1."""
    place = folder or Path(tempfile.mkdtemp(prefix="dawnline-demo-"))
    place.mkdir(parents=True, exist_ok=True)
    if (place / "heron-lane.db").exists():
        raise SettingsError(f"{place}: already holds a demo; name a new folder")
    config = place / "dawnline.toml"
    config.write_text(CONFIGURATION.format(port=place / "probe"), encoding="utf-8")
    settings = load(config)
    _say("Heron Lane, an invented garden pond. Ten calm days are simulated and replayed into the store ...")
    _history(place, config, seed)
    _say(f"Now its eleventh night, {EVENING[11:16]} to {MORNING[11:16]}, in {seconds:.0f} s, probe by probe line.\n")
    _night(place, settings, seed, seconds)
    return _look_back(place, settings)


def _say(text: str) -> None:
    print(text, flush=True)


def _run(*words: str) -> None:
    """Run one of our own programs; whatever it has to complain about is shown."""
    subprocess.run([sys.executable, "-m", *words], check=True, stdout=subprocess.DEVNULL)


def _history(place: Path, config: Path, seed: int) -> None:
    table = str(place / "calm-days.csv")
    story = ("--scenario", SCENARIO, "--seed", str(seed))
    _run("dawnline_simulator", "write", *story, "--days", str(CALM_DAYS), table)
    _run("dawnline.cli", "--config", str(config), "replay", table, "--store", str(place / "heron-lane.db"))


def _night(place: Path, settings: Settings, seed: int, seconds: float) -> None:
    """Simulator and service side by side, on one clock, until the morning."""
    evening, morning = (parse_time(text, settings.pond.zone) for text in (EVENING, MORNING))
    rate, begin = round((morning - evening) / 1000 / seconds), wall_s() + HEAD_START_S
    environment = {**os.environ, VARIABLE: f"{rate}@{EVENING}@{begin:.3f}"}
    story = ("--scenario", SCENARIO, "--seed", str(seed), "--from", EVENING, "--pty", str(place / "probe"))
    with (place / "service.log").open("w", encoding="utf-8") as log:
        simulator = _start(environment, log, "dawnline_simulator", "run", *story)
        service = _start(environment, log, "dawnline.cli", "--config", str(settings.path), "run", pipe=True)
        try:
            teller = threading.Thread(target=_tell, args=(service,), daemon=True)
            teller.start()
            _watch(settings, evening, morning, begin + seconds, service)
            service.send_signal(signal.SIGTERM)
            status = service.wait(timeout=10)
            teller.join(timeout=5)
        finally:
            for process in (simulator, service):
                process.kill()
                process.wait()
    if status != 0:
        raise DawnlineError(f"the service ended with status {status}; see {place / 'service.log'}")


def _start(environment: dict[str, str], log: IO[str], *words: str, pipe: bool = False) -> subprocess.Popen[str]:
    out = subprocess.PIPE if pipe else subprocess.DEVNULL
    return subprocess.Popen([sys.executable, "-m", *words], env=environment, stdout=out, stderr=log, text=True)


def _tell(service: subprocess.Popen[str]) -> None:
    """What the service prints to the keeper's console."""
    assert service.stdout is not None
    for line in service.stdout:
        _say("    " + line.rstrip("\n"))


def _watch(settings: Settings, evening: int, morning: int, ends_s: float, service: subprocess.Popen[str]) -> None:
    """Say each pond hour what the service sees, until the morning."""
    said = -1
    while wall_s() < ends_s:
        if service.poll() is not None:
            raise DawnlineError("the service ended by itself; see service.log")
        time.sleep(0.2)
        data = now_file.read(settings.store.path)
        if data is None or data["probes"]["ph"]["value"] is None:
            continue
        at = parse_time(data["time"], settings.pond.zone)
        if at // HOUR_MS != said and evening <= at < morning:
            said = at // HOUR_MS
            value, water = (data["probes"][name]["value"] for name in ("ph", "water"))
            swing = data["probes"]["ph"]["swing_24h"]
            moved = "" if swing is None else f", swing of the last 24 h {swing:.2f}"
            _say(f"{datetime.fromisoformat(data['time']):%H:%M}  pH {value:.2f}, water {water:.1f} degC{moved}")


def _look_back(place: Path, settings: Settings) -> int:
    night = _read_night(settings)
    zone = settings.pond.zone
    _say(f"\nThe days, out of the store:\n{day_table(night.days, zone)}")
    _say(f"\nTold in the days before:\n{alarm_list(night.before, zone)}")
    _say(f"\nThe night's alarms:\n{alarm_list(night.transitions, zone)}\n")
    points = [(reading.at, reading.value) for reading in night.readings]
    picture = place / "night.svg"
    picture.write_text(night_svg(points, night.transitions, settings.pond, settings.limits), encoding="utf-8")
    told, crossed = night.told_at, night.crossed_at
    if told is not None and (crossed is None or told < crossed):
        lead = (
            ""
            if crossed is None
            else f", {show_duration(crossed - told)} before pH passed 6.5 at {iso(crossed, zone)[11:16]}"
        )
        _say(f"The keeper was told at {iso(told, zone)[11:16]}{lead}.")
    else:
        _say("The keeper was NOT told before pH passed 6.5.")
    _say(f"Database: {place / 'heron-lane.db'}\nPicture:  {picture}\nLog:      {place / 'service.log'}\nLook yourself:")
    for command in ("status", "review", "review --html week.html", "page"):
        _say(f"  {Path(sys.executable).parent / 'dawnline'} --config {settings.path} {command}")
    return 0 if told is not None and (crossed is None or told < crossed) else 1


def _read_night(settings: Settings) -> Night:
    evening, morning = (parse_time(text, settings.pond.zone) for text in (EVENING, MORNING))
    with Reader.open(settings.store.path) as reader:
        readings = [each for each in reader.readings("ph", evening, morning + HOUR_MS) if each.flag is Flag.GOOD]
        before = reader.transitions(0, evening)
        transitions = reader.transitions(evening, morning + HOUR_MS)
        days = reader.days("2026-06-04", "2026-06-14")
    crossed = next((each.at for each in readings if each.value < settings.limits.ph_low), None)
    return Night(readings, before, transitions, days, crossed)
