"""The serial link on a real pseudo-terminal."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Arrival, Intake
from dawnline.probes.links.serial import SILENCE_S, STALL_S, SerialLink

Eventually = Callable[..., None]
TWO = [Route("ph"), Route("water", "temp")]


@pytest.fixture
def open_link(cable: Any, intake: Intake, eventually: Eventually) -> Iterator[Callable[..., SerialLink]]:
    started: list[SerialLink] = []

    def start(*, silent: bool = True, routes: list[Route] = TWO, into: Intake = intake) -> SerialLink:
        link = SerialLink(str(cable.path), 9600, routes, into)
        started.append(link)
        link.start()
        eventually(lambda: link.report().state == "connected", "the link connected")
        if silent:  # the device says nothing for a while, so that its first line is known to be whole
            time.sleep(SILENCE_S + 0.1)
        return link

    yield start
    for link in started:
        link.stop()


def test_lines_become_samples_of_the_probes_on_the_port(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link()
    cable.send(b"ph=7.12 temp=18.4\r\n")
    cable.send(b'{"ph": 7.13}\n')
    eventually(lambda: len(intake) == 2)
    batches = drain(intake)
    assert [[(s.probe, s.value) for s in b.samples] for b in batches] == [
        [("ph", 7.12), ("water", 18.4)],
        [("ph", 7.13)],
    ]
    assert [b.at for b in batches] == [1_000_000, 1_000_001]
    assert link.report().good == 2
    assert link.report().bad == {}


def test_a_line_is_not_read_before_its_end_has_come(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link()
    cable.send(b"ph=7.0")
    eventually(lambda: link.report().silent_s is not None, "the first half read")
    time.sleep(0.3)  # longer than the read timeout
    assert len(intake) == 0
    cable.send(b"4\n")
    eventually(lambda: len(intake) == 1)
    assert [s.value for s in drain(intake)[0].samples] == [7.04]


def test_bytes_right_after_opening_may_be_the_end_of_a_line(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link(silent=False, routes=[Route("ph")])
    cable.send(b"7.12\n7.13\n")  # "17.12", whose beginning nobody saw
    eventually(lambda: len(intake) == 1)
    assert [s.value for s in drain(intake)[0].samples] == [7.13]
    assert link.report().bad == {"cut short": 1}


def test_garbage_is_counted_and_the_next_line_read(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link()
    cable.send(
        b"\xff\xfe\x00\x80\n" + b"x" * 3000 + b"\n" + b"ph=7,12\nph=nan temp=18.4\nredox=200 ph=7.2\nph=7.3\x00\n"
    )
    cable.send(b"ph=7.25\n")
    eventually(lambda: link.report().good == 3)
    assert [[s.value for s in b.samples] for b in drain(intake)] == [[18.4], [7.2], [7.25]]
    report = link.report()
    assert report.bad == {
        "not ASCII": 1,
        "too long": 1,
        "decimal comma": 1,
        "not finite": 1,
        "unknown name": 1,
        "not a number": 1,
    }
    assert report.unknown_names == ("redox",)
    assert report.last_refused["not ASCII"] == r"\xff\xfe\x00\x80"
    assert len(report.last_refused["too long"]) == 80
    assert report.state == "connected"


def test_unplugged_and_plugged_in_again_it_reads_on(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link()
    cable.send(b"ph=7.1\nph=7.")
    eventually(lambda: len(intake) == 1)
    cable.unplug()
    eventually(lambda: link.report().state == "waiting", "the loss noticed")
    assert link.report().bad == {"cut short": 1}
    assert link.report().last_error
    cable.plug()
    eventually(lambda: link.report().state == "connected", "connected again")
    time.sleep(SILENCE_S + 0.1)
    cable.send(b"ph=7.3\n")
    eventually(lambda: len(intake) == 2)
    assert [s.value for b in drain(intake) for s in b.samples] == [7.1, 7.3]
    assert link.report().reconnects == 1


def test_a_port_that_is_not_there_yet_is_waited_for(cable: Any, intake: Intake, eventually: Eventually) -> None:
    cable.unplug()
    link = SerialLink(str(cable.path), 9600, TWO, intake)
    link.start()
    try:
        eventually(lambda: link.report().last_error is not None, "a reason given")
        assert link.report().state == "waiting"
        assert "No such file" in str(link.report().last_error)
        cable.plug()
        eventually(lambda: link.report().state == "connected", "connected")
        assert link.report().reconnects == 0
    finally:
        link.stop()


def test_a_second_reader_is_kept_out(cable: Any, intake: Intake, open_link: Any, eventually: Eventually) -> None:
    open_link()
    second = SerialLink(str(cable.path), 9600, TWO, intake)
    second.start()
    eventually(lambda: second.report().last_error is not None, "a reason given")
    assert second.report().state == "waiting"
    assert "exclusively lock" in str(second.report().last_error)
    second.stop()


def test_a_full_queue_holds_the_port_back_and_stop_still_ends_it(
    cable: Any, open_link: Any, eventually: Eventually
) -> None:
    small = Intake(lambda: 5, capacity=1)
    small.put(Arrival("other", (("ph", 7.0, None),)))
    link = open_link(into=small)
    cable.send(b"ph=7.1\n")
    eventually(lambda: link.report().good == 1)
    assert len(small) == 1
    small.take(0)
    eventually(lambda: len(small) == 1, "the waiting line put in")
    cable.send(b"ph=7.2\n")
    eventually(lambda: link.report().good == 2)
    link.stop()
    assert not any(t.name == link.name for t in threading.enumerate())
    assert link.report().state == "stopped"
    assert link.report().dropped == 1


def test_what_a_stalled_queue_may_have_torn_is_not_read(
    cable: Any, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    small = Intake(lambda: 5, capacity=1)
    small.put(Arrival("other", (("ph", 7.0, None),)))
    link = open_link(into=small)
    cable.send(b"ph=7.1\n")
    eventually(lambda: link.report().good == 1, "the link blocked")
    cable.fill(b"ph=17.12\n")
    time.sleep(STALL_S + 0.1)
    values: list[float] = []

    def drained() -> bool:
        values.extend(sample.value for batch in drain(small) for sample in batch.samples)
        return "cut short" in link.report().bad

    eventually(drained, "the torn lines refused")
    cable.send(b"7.12\nph=7.2\n")  # the rest of a line whose beginning was lost, and a whole one
    eventually(lambda: drained() and 7.2 in values, "the next whole line read")
    assert values == [7.0, 7.1, *[17.12] * (len(values) - 3), 7.2]
    assert link.report().bad == {"cut short": 2}


def test_a_bug_costs_one_line_and_not_the_port(
    cable: Any, intake: Intake, open_link: Any, drain: Any, eventually: Eventually, monkeypatch: Any
) -> None:
    link = open_link()
    real = link._routing.route

    def crash_once(fields: Any) -> Any:
        monkeypatch.setattr(link._routing, "route", real)
        raise RuntimeError("a bug")

    monkeypatch.setattr(link._routing, "route", crash_once)
    cable.send(b"ph=7.1\nph=7.2\n")
    eventually(lambda: len(intake) == 1)
    assert [s.value for s in drain(intake)[0].samples] == [7.2]
    assert link.report().bad == {"fault of ours": 1}
    assert link.report().state == "connected"
