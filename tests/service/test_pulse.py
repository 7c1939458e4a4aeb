"""Proof of life is given only while the watch is well."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Act, Tick
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline.service.pulse import Pulse, unnoticed
from dawnline.systemd import notify

from ..pond import POND

T0 = 1_781_035_200_000


def flowing(minutes: int = 30) -> Pipeline:
    pipe = Pipeline(shipped(), POND, [("ph", "ph", 10_000, None)])
    for minute in range(minutes):
        at = T0 + minute * MINUTE_MS
        pipe.step(Sample("ph", at, 7.2 + minute % 3 * 0.01, at))
    return pipe


def test_readings_that_flow_are_a_sign_of_life() -> None:
    assert unnoticed(flowing()) is None


def test_a_silence_that_is_an_alarm_is_in_somebodys_hands() -> None:
    pipe = flowing()
    pipe.step(Tick(pipe.now + 3 * HOUR_MS))
    assert [alarm for alarm, _, _ in pipe.desk.active()] == ["no-data"]
    assert unnoticed(pipe) is None


def test_a_silence_that_nobody_was_told_of_is_no_life() -> None:
    pipe = flowing()
    pipe.step(Tick(pipe.now + HOUR_MS))
    pipe.desk.memory.clear()
    assert unnoticed(pipe) == "ph"


def test_a_probe_taken_out_of_service_may_be_silent() -> None:
    pipe = flowing()
    pipe.step(Act("a", pipe.now + 1, "out-of-service", {"probe": "ph", "for": "3h"}, "ada"))
    pipe.step(Tick(pipe.now + 2 * HOUR_MS))
    assert unnoticed(pipe) is None


class Beat:
    """A heartbeat that counts."""

    def __init__(self) -> None:
        self.alive_count = 0

    def alive(self) -> None:
        self.alive_count += 1


def test_watchdog_and_heartbeat_hear_of_it_together() -> None:
    fed: list[int] = []
    beat: Any = Beat()
    pulse, pipe = Pulse(lambda: fed.append(1), beat), flowing()
    pulse.beat(pipe)
    assert (len(fed), beat.alive_count) == (1, 1)
    pipe.step(Tick(pipe.now + HOUR_MS))
    pipe.desk.memory.clear()
    pulse.beat(pipe)
    assert (len(fed), beat.alive_count) == (1, 1)
    pipe.step(Sample("ph", pipe.now + 1, 7.2, pipe.now + 1))
    pulse.beat(pipe)
    assert (len(fed), beat.alive_count) == (2, 2)


def test_systemd_hears_each_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind(str(tmp_path / "notify"))
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        for word in ("READY=1", "WATCHDOG=1", "STOPPING=1"):
            notify(word)
            assert systemd.recv(100).decode() == word


def test_without_systemd_nothing_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    notify("READY=1")
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "gone"))
    notify("READY=1")
