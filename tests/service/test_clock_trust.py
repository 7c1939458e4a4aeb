"""Whether the clock is known to be set: the rules, and what this machine says of itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from dawnline.clock_settings import Trust
from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.service import machine as machines
from dawnline.service.clock_trust import EARLIEST_MS, judge
from dawnline.service.machine import STA_UNSYNC, Machine

NOW = 1_781_035_200_000


class Says:
    """A machine that says what it is told to."""

    def __init__(self, *facts: str) -> None:
        self.facts = facts

    def marked(self) -> bool:
        return "marked" in self.facts

    def synchronised(self) -> bool:
        return "synchronised" in self.facts

    def kept_time(self) -> bool:
        return "battery" in self.facts

    def will_be_set(self) -> bool:
        return "setter" in self.facts


@pytest.mark.parametrize(
    ("facts", "trust", "now", "record_end", "step", "known"),
    [
        # nothing can be learnt: a container, a computer without time synchronisation
        ("", "auto", NOW, None, 0, True),
        ("", "auto", NOW, NOW - HOUR_MS, 0, True),
        ("", "auto", NOW, NOW + 5_000, 0, True),
        ("", "auto", NOW, NOW + HOUR_MS, 0, False),
        ("", "auto", EARLIEST_MS - 1, None, 0, False),
        # a board: its clock stands where it was saved, until somebody sets it
        ("setter", "auto", NOW, NOW - HOUR_MS, 0, False),
        ("setter", "auto", NOW, NOW - HOUR_MS, 10_000, False),
        ("setter", "auto", NOW, NOW - HOUR_MS, 100 * DAY_MS, True),
        ("setter", "auto", NOW, NOW - HOUR_MS, -HOUR_MS, True),
        ("setter", "auto", NOW, NOW + HOUR_MS, -9 * HOUR_MS, False),
        ("setter marked", "auto", NOW, NOW - HOUR_MS, 0, True),
        ("setter synchronised", "auto", NOW, NOW - HOUR_MS, 0, True),
        ("synchronised", "auto", NOW, NOW + HOUR_MS, 0, True),  # it is the record that was wrong
        # a clock with a battery, and one whose battery is flat
        ("setter battery", "auto", NOW, NOW - HOUR_MS, 0, True),
        ("setter battery", "auto", NOW, NOW + HOUR_MS, 0, False),
        ("battery", "auto", 946_684_800_000, None, 0, False),
        # as configured
        ("setter", "always", EARLIEST_MS - 1, NOW, 0, True),
        ("synchronised battery", "mark", NOW, None, HOUR_MS, False),
        ("marked", "mark", NOW, None, 0, True),
        ("marked synchronised", "auto", EARLIEST_MS - 1, None, 0, False),
    ],
)
def test_what_counts_as_set(
    facts: str, trust: Trust, now: int, record_end: int | None, step: int, *, known: bool
) -> None:
    judgement = judge(Says(*facts.split()), trust, now, record_end, step)
    assert judgement.known is known
    assert judgement.why


def test_this_machine_answers_and_never_raises(tmp_path: Path) -> None:
    machine = Machine(tmp_path / "mark")
    assert machine.boot() == Machine(tmp_path).boot() != ""
    assert machine.uptime_ms() <= machine.uptime_ms()
    assert {type(answer()) for answer in (machine.synchronised, machine.kept_time, machine.will_be_set)} == {bool}
    assert not machine.marked()
    (tmp_path / "mark").touch()
    assert machine.marked()


@pytest.mark.parametrize(("status", "known"), [(None, False), (0, True), (0x2001, True), (STA_UNSYNC, False)])
def test_the_kernels_word(monkeypatch: pytest.MonkeyPatch, status: int | None, *, known: bool) -> None:
    monkeypatch.setattr(machines, "_kernel_status", lambda: status)
    assert Machine(Path("/nowhere")).synchronised() is known


def test_the_kernel_answers_or_not() -> None:
    status = machines._kernel_status()
    assert status is None or 0 <= status <= 0xFFFF


@pytest.mark.parametrize(("content", "kept"), [("1\n", True), ("0\n", False), (None, False)])
def test_a_clock_with_a_battery(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, content: str | None, *, kept: bool
) -> None:
    if content is not None:
        (tmp_path / "rtc0").mkdir()
        (tmp_path / "rtc0" / "hctosys").write_text(content)
    monkeypatch.setattr(machines, "RTC", tmp_path)
    assert Machine(tmp_path / "mark").kept_time() is kept


def test_a_program_that_sets_the_clock_is_seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machines, "SETTERS", (tmp_path / "timesync",))
    assert not Machine(tmp_path / "mark").will_be_set()
    (tmp_path / "timesync").mkdir()
    assert Machine(tmp_path / "mark").will_be_set()


def test_without_a_boot_id_each_process_is_a_boot(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machines, "BOOT_ID", tmp_path / "none")
    assert Machine(tmp_path).boot() == Machine(tmp_path).boot()
    assert Machine(tmp_path).boot().startswith("process-")
