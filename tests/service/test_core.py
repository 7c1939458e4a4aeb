"""The loop itself, in this process: a real store, no links, and a power cut wherever we like."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Arrival, Intake
from dawnline.service.core import Core
from dawnline.service.patient_inbox import PatientInbox
from dawnline.service.post import Post
from dawnline.service.resume import resume
from dawnline.settings import Settings, load
from dawnline.store.inbox import inbox_path
from dawnline.store.store import Store

from ..configuration import POND, serial

T0 = 1_781_035_200_000
CONFIG = POND + serial("ph", "ph")


class PowerCutError(Exception):
    """Nothing more is written."""


class Idle:
    """A worker that is given nothing."""

    def submit(self, letter: object) -> None:
        raise AssertionError(letter)


class Clock:
    """Pond time that goes on by half a minute whenever it is asked for."""

    rate, behind_ms = 1.0, 0

    def __init__(self, at: int) -> None:
        self.at = at

    def now(self) -> int:
        self.at += MINUTE_MS // 2
        return self.at

    def machine_seconds(self, pond_ms: float) -> float:
        return 0.0 * pond_ms


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    return load(tmp_path / "dawnline.toml")


def turned(
    settings: Settings, at: int, stopping: Callable[[Core], bool], begin: Callable[[Core], None] = lambda core: None
) -> tuple[Pipeline, int]:
    """The pipeline and pond time after the loop has turned until `stopping`."""
    with (
        Store.open(settings.store.path, [("ph", "ph")]) as store,
        PatientInbox(inbox_path(settings.store.path)) as inbox,
    ):
        clock = Clock(at)
        pipeline = resume(settings, store)
        intake = Intake(clock.now, last_stamp=store.cursor() or 0)
        post = Post(Idle(), [])  # type: ignore[arg-type]
        core = Core(pipeline, store, inbox, intake, [], post, clock, lambda core: None)  # type: ignore[arg-type]
        begin(core)
        core.run(lambda: stopping(core))
        return pipeline, clock.at


def cut_after(minutes: int) -> Callable[[Core], bool]:
    """Stop without a last commit, as soon as something so late is on the disk."""

    def stopping(core: Core) -> bool:
        if core.commits and core.committed_at >= T0 + minutes * MINUTE_MS:
            raise PowerCutError
        return False

    return stopping


def test_silence_from_the_first_start_is_counted_across_power_cuts(settings: Settings) -> None:
    with pytest.raises(PowerCutError):
        turned(settings, T0, cut_after(40))
    with Store.open(settings.store.path, [("ph", "ph")]) as store:
        cursor = store.cursor()
        assert cursor is not None
        again = resume(settings, store)
    assert again.watches["ph"].silence.heard_at is not None
    assert again.watches["ph"].silence.heard_at < T0 + 3 * MINUTE_MS
    pipeline, _ = turned(settings, cursor, lambda core: core.pipeline.now > T0 + HOUR_MS + 15 * MINUTE_MS)
    assert [alarm for alarm, _, _ in pipeline.desk.active()] == ["no-data"]


def test_a_stop_leaves_the_memory_as_it_was(settings: Settings) -> None:
    def begin(core: Core) -> None:
        for value in (7.1, 7.12, 7.11):
            core.intake.put(Arrival("serial", (("ph", value, None),)))

    pipeline, _ = turned(settings, T0, lambda core: core.pipeline.now > T0 + HOUR_MS, begin)
    with Store.open(settings.store.path, [("ph", "ph")]) as store:
        assert json.dumps(resume(settings, store).save()) == json.dumps(pipeline.save())


def test_what_has_come_until_the_stop_is_folded_and_kept(settings: Settings) -> None:
    def last_words(core: Core) -> None:
        core.endings = [lambda: core.intake.put(Arrival("serial", (("ph", 7.3, None),)))]

    pipeline, _ = turned(settings, T0, lambda core: True, last_words)
    assert pipeline.watches["ph"].newest is not None
    assert pipeline.watches["ph"].newest[1] == 7.3
