"""The command `dawnline-simulator`, called as people call it."""

from __future__ import annotations

import csv
import os
import queue
import signal
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
import serial
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from dawnline_simulator.cli import main

from ..machine import WAIT_S, free_port, until

ROOT = Path(__file__).parents[2]


def environment(**more: str) -> dict[str, str]:
    path = os.pathsep.join([str(ROOT / "daemon"), str(ROOT / "simulator")])
    inherited = {key: value for key, value in os.environ.items() if key != "DAWNLINE_CLOCK_RATE"}
    return {**inherited, "PYTHONPATH": path, **more}


@contextmanager
def running(*arguments: str, **variables: str):
    command = [sys.executable, "-m", "dawnline_simulator", "run", *arguments]
    process = subprocess.Popen(
        command, env=environment(**variables), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def written(tmp_path: Path, *arguments: str) -> list[dict[str, str]]:
    out = tmp_path / "readings.csv"
    assert main(["write", *arguments, str(out)]) == 0
    with out.open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def test_write_is_the_same_bytes_for_the_same_seed(tmp_path):
    for name in ("one", "two"):
        call = ["write", "--scenario", "cloudburst", "--days", "0.25", "--seed", "7"]
        assert main([*call, str(tmp_path / f"{name}.csv"), "--truth", str(tmp_path / f"{name}-truth.csv")]) == 0
    for kind in ("", "-truth"):
        assert (tmp_path / f"one{kind}.csv").read_bytes() == (tmp_path / f"two{kind}.csv").read_bytes()
    assert (tmp_path / "one.csv").read_bytes().count(b"\n") == 2161


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--scenario", "flood"], "expected one of quiet-week"),
        (["--scenario", "quiet-week", "--days", "0"], "--days"),
        (["--scenario", "quiet-week", "--days", "nan"], "--days"),
        (["--scenario", "quiet-week", "--interval", "10"], "--interval"),
        (["--scenario", "quiet-week", "--interval", "0s"], "--interval"),
        (["--scenario", "quiet-week", "--start", "tomorrow"], "--start"),
        (["--scenario", "quiet-week", "--interval", "9w"], "--interval: expected more than 0 and up to a day"),
        (["--scenario", "quiet-week", "--start", "9999-12-30T00:00:00Z"], "--start: expected a time from 1970"),
        (["--scenario", "quiet-week", "--start", "0001-01-01T00:00:00Z"], "--start: "),
        (["--scenario", "quiet-week", "--start", "0001-01-01T00:00:00"], "--start: "),
        (["--scenario", "quiet-week", "--seed", "x"], "--seed"),
        ([], "--scenario"),
    ],
)
def test_a_call_that_cannot_be_followed_ends_in_words(tmp_path, capsys, arguments, words):
    assert main(["write", *arguments, str(tmp_path / "out.csv")]) == 2
    complaint = capsys.readouterr().err
    assert words in complaint
    assert "Traceback" not in complaint


def test_readings_and_truth_do_not_share_a_file(tmp_path, capsys):
    out = str(tmp_path / "out.csv")
    assert main(["write", "--scenario", "quiet-week", out, "--truth", out]) == 2
    assert "expected another file" in capsys.readouterr().err
    assert not (tmp_path / "out.csv").exists()


def test_a_folder_that_is_not_there_ends_in_words(tmp_path, capsys):
    assert main(["write", "--scenario", "quiet-week", str(tmp_path / "no" / "out.csv")]) == 2
    said = capsys.readouterr().err
    assert "No such file" in said
    assert "Errno" not in said


@pytest.mark.parametrize(
    ("arguments", "variable", "words"),
    [
        (["--rate", "60"], "720@2026-06-13T17:00:00+02:00@1764061234.5", "disagree"),
        (["--rate", "60"], "720", "disagree"),
        (["--rate", "0"], "", "--rate: a rate is a number above 0"),
        (["--rate", "1e-300"], "", "--rate: a rate is a number above 0"),
        ([], "60@2026-06-04T00:00:00Z@1e300", "expected RATE@POND_ISO@WALL_UNIX_SECONDS"),
        ([], "720@2026-06-13@", "expected RATE@POND_ISO@WALL_UNIX_SECONDS"),
        (["--from", "2027-01-01T00:00:00Z"], "", "nothing is left to tell"),
    ],
)
def test_run_refuses_in_words(tmp_path, capsys, monkeypatch, arguments, variable, words):
    monkeypatch.setenv("DAWNLINE_CLOCK_RATE", variable)
    call = ["run", "--scenario", "quiet-week", "--days", "0.01", "--pty", str(tmp_path / "probe")]
    before = [signal.getsignal(name) for name in (signal.SIGTERM, signal.SIGINT)]
    try:
        assert main([*call, *arguments]) == 2
    finally:
        for name, handler in zip((signal.SIGTERM, signal.SIGINT), before, strict=True):
            signal.signal(name, handler)
    assert words in capsys.readouterr().err
    assert not os.path.lexists(tmp_path / "probe")


def test_run_says_what_write_writes_prints_its_clock_and_ends(tmp_path):
    story = ["--scenario", "quiet-week", "--seed", "5", "--days", "0.3"]
    begin = "2026-06-04T06:00:00+02:00"
    expected = [f"ph={row['ph']} temp={row['water']}" for row in written(tmp_path, *story) if row["time"] >= begin]
    link = tmp_path / "probe"
    with running(*story, "--rate", "3600", "--from", begin, "--pty", str(link)) as process:
        until(lambda: os.path.lexists(link))
        with serial.Serial(str(link), timeout=0.2) as far:
            assert process.stdout.readline().startswith(f"DAWNLINE_CLOCK_RATE=3600@{begin}@")
            heard = b""
            while process.poll() is None:
                try:
                    heard += far.read(4096)
                except serial.SerialException:
                    break  # unplugged at the end
        assert process.wait(WAIT_S) == 0
    lines = heard.decode("ascii").splitlines()
    assert len(lines) > 100
    # A slow machine may drop readings that are late, but never changes or reorders one.
    told = iter(expected)
    assert all(line in told for line in lines)
    assert not os.path.lexists(link)


def test_run_speaks_millivolts_of_an_electrode(tmp_path):
    link = tmp_path / "probe"
    story = ["--scenario", "quiet-week", "--seed", "5", "--rate", "600"]
    with running(*story, "--millivolts", "97,-6", "--pty", str(link)):
        until(lambda: os.path.lexists(link))
        with serial.Serial(str(link), timeout=10) as far:
            far.readline()
            words = dict(word.split("=") for word in far.readline().decode("ascii").split())
    mv, celsius = float(words["mv"]), float(words["temp"])
    ph = 7.0 - (mv + 6.0) / (0.97 * 59.159 * (celsius + 273.15) / 298.15)  # from the slope at 25 degC
    assert 6.8 < ph < 8.2


@pytest.mark.parametrize("name", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_well(tmp_path, name):
    with running("--scenario", "quiet-week", "--rate", "1", "--pty", str(tmp_path / "probe")) as process:
        assert process.stdout.readline().startswith("DAWNLINE_CLOCK_RATE=1@")
        process.send_signal(name)
        assert process.wait(WAIT_S) == 0
        assert process.stderr.read() == ""
    assert not os.path.lexists(tmp_path / "probe")


def test_a_signal_ends_it_well_on_a_broker_too(mosquitto):
    broker = mosquitto()
    url = f"mqtt://127.0.0.1:{broker.port}"
    with running("--scenario", "quiet-week", "--rate", "1", "--mqtt", url) as process:
        assert process.stdout.readline().startswith("DAWNLINE_CLOCK_RATE=1@")
        process.send_signal(signal.SIGTERM)
        assert process.wait(WAIT_S) == 0
        assert process.stderr.read() == ""


def test_a_signal_ends_it_while_it_winds_on_to_its_beginning(tmp_path):
    story = ["--scenario", "quiet-week", "--days", "3660", "--from", "2036-01-01T00:00:00Z"]
    link = tmp_path / "probe"
    with running(*story, "--pty", str(link)) as process:
        until(lambda: os.path.lexists(link))
        process.send_signal(signal.SIGTERM)
        assert process.wait(WAIT_S) == 0
        assert process.stderr.read() == ""
    assert not os.path.lexists(link)


def listen(link: Path, process) -> list[bytes]:
    """What a reader gets from each stay of the port, until the process ends."""
    stays = []
    while process.poll() is None:
        try:
            far = serial.Serial(str(link), timeout=0.05)
        except (OSError, serial.SerialException):
            time.sleep(0.005)
            continue
        stays.append(b"")
        with far, suppress(OSError, serial.SerialException):  # a hang-up
            while process.poll() is None and os.path.lexists(link):
                stays[-1] += far.read(4096)
    return stays


def test_a_pulled_plug_is_a_port_that_goes_and_comes_back(tmp_path):
    story = ["--scenario", "wire-breaks", "--seed", "3", "--days", "2.65", "--interval", "1m"]
    expected = [row for row in written(tmp_path, *story) if row["time"] >= "2026-06-06T12:00:00"]
    gap = [row["time"][11:16] for row in expected if not row["ph"]]
    assert (gap[0], gap[-1], len(gap)) == ("13:00", "13:59", 60)
    begin = "2026-06-06T12:00:00+02:00"
    with running(*story, "--rate", "3600", "--from", begin, "--pty", str(tmp_path / "probe")) as process:
        stays = listen(tmp_path / "probe", process)
        assert process.wait(WAIT_S) == 0
    before, after = ([f"ph={r['ph']} temp={r['water']}" for r in rows] for rows in (expected[:60], expected[120:]))
    assert len(stays) == 2
    for heard, told in zip(stays, (before, after), strict=True):
        lines, rest = heard.decode("ascii").splitlines(), iter(told)
        assert len(lines) > 10
        assert all(line in rest for line in lines)


def test_a_wet_plug_is_garbage_and_then_silence(tmp_path):
    # 01:10 to 01:25 garbage, then nothing until 05:25: the story is cut at 01:41
    story = ["--scenario", "wire-breaks", "--seed", "3", "--days", "1.07", "--interval", "1m"]
    expected = [row for row in written(tmp_path, *story) if row["time"] >= "2026-06-05T00:50:00"]
    whole = [f"ph={row['ph']} temp={row['water']}".encode() for row in expected if row["ph"]]
    assert len(whole) == 20
    begin = "2026-06-05T00:50:00+02:00"
    with running(*story, "--rate", "1200", "--from", begin, "--pty", str(tmp_path / "probe")) as process:
        (heard,) = listen(tmp_path / "probe", process)
        assert process.wait(WAIT_S) == 0
    said = [line for line in whole if line in heard]
    assert len(said) > 5
    garbage = heard[heard.rindex(said[-1]) + len(said[-1]) :].lstrip(b"\n")
    assert len(garbage) > 20
    assert b"ph=" not in garbage


def test_a_clock_in_the_environment_is_kept(tmp_path):
    wall = time.time()
    clock = f"600@2026-06-04T01:00:00+02:00@{wall:.3f}"
    story = ["--scenario", "quiet-week", "--days", "0.0625"]  # until 01:30: three machine seconds
    with running(*story, "--pty", str(tmp_path / "probe"), DAWNLINE_CLOCK_RATE=clock) as process:
        assert process.wait(WAIT_S) == 0
        assert time.time() - wall >= 2.9  # it did not end before its pond time came
        assert process.stdout.read() == ""


def test_mqtt_speaks_bare_numbers_at_qos_1(mosquitto, tmp_path):
    port = mosquitto().port
    story = ["--scenario", "quiet-week", "--seed", "2", "--days", "0.02"]
    expected = written(tmp_path, *story)
    heard: queue.Queue[tuple[str, str]] = queue.Queue()
    ready = queue.Queue()
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.on_message = lambda _c, _d, message: heard.put((message.topic, message.payload.decode(), message.qos))
    client.on_subscribe = lambda *_: ready.put(True)
    client.connect("127.0.0.1", port)
    client.subscribe("#", qos=1)
    client.loop_start()
    ready.get(timeout=10)
    try:
        with running(*story, "--rate", "600", "--mqtt", f"mqtt://127.0.0.1:{port}/garden") as process:
            assert process.wait(WAIT_S) == 0
        # The broker passes on in order; a word of ours behind theirs marks the end.
        client.publish("end", "", qos=1)
        said = list(iter(lambda: heard.get(timeout=10), ("end", "", 1)))
    finally:
        client.disconnect()
        client.loop_stop()
    assert {topic for topic, _, _ in said} == {"garden/ph", "garden/temp"}
    assert {qos for _, _, qos in said} == {1}
    values = [value for topic, value, _ in said if topic == "garden/ph"]
    assert len(values) > 100
    assert values[-20:] == [row["ph"] for row in expected][-20:]


def test_a_broker_that_is_not_there_ends_in_words():
    with running("--scenario", "quiet-week", "--mqtt", f"mqtt://127.0.0.1:{free_port()}") as process:
        assert process.wait(WAIT_S) == 2
        complaint = process.stderr.read()
    assert "cannot be reached" in complaint
    assert "Traceback" not in complaint
