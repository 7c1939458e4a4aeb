"""Starting again gives the memory of the last commit, exactly."""

from __future__ import annotations

import json
import random
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.event import Act, Event, Moved, Tick, Transition
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline.service.fold import make_pipeline
from dawnline.service.pending import Pending
from dawnline.service.resume import resume
from dawnline.settings import Settings, load
from dawnline.store.store import Store

from ..configuration import POND, serial

T0 = 1_781_035_200_000  # 2026-06-09T22:00 local
CONFIG = POND + serial("ph", "ph") + serial("water", "temperature")


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    return load(tmp_path / "dawnline.toml")


def story(seed: int, hours: float) -> list[Event]:
    """Readings with noise, spikes, gaps, undated and late ones, an alarm, acts and ticks; every stamp its own."""
    dice, at = random.Random(seed), T0
    events: list[Event] = []
    while at < T0 + hours * 3_600_000:
        at += dice.choice((1, 10_000, 10_000, 10_000, 60_000))
        kind = dice.random()
        value = round(6.3 + 0.4 * dice.random() * (dice.random() < 0.1), 2)
        if kind < 0.02:
            events.append(Act(f"a{len(events)}", at, *dice.choice(ACTS)))
        elif kind < 0.04:
            at += 1_200_000
            events.append(Tick(at))
        elif kind < 0.06:
            events.append(Sample("ph", at - 5_000, 9.9, at))
        elif kind < 0.08:
            events.append(Sample("ph", at, 7.0, at, dated=False))
        elif kind < 0.3:
            events.append(Sample("water", at, 18.0 + dice.random(), at))
        else:
            events.append(Sample("ph", at, dice.choice((value, value, value, 13.0)) if kind < 0.35 else value, at))
    return events


ACTS: list[tuple[str, dict[str, Any], str]] = [
    ("acknowledge", {"id": 1}, "ada"),
    ("shelve", {"id": 1, "for": "1h"}, "ada"),
    ("note", {"note": "herons"}, "ada"),
    ("cleaning", {"probe": "ph", "for": "10m"}, "ada"),
    ("calibration", {"probe": "ph", "for": "5m", "outcome": True}, "ada"),
    ("calibrated", {"probe": "ph", "points": [[7.0, 7.1, 20.0]]}, "ada"),
    ("buffer-check", {"probe": "ph", "buffer_ph": 7.0, "measured": 7.3}, "ada"),
    ("hand-test", {"ph": 6.9}, "ada"),
]


def live(settings: Settings, store: Store, events: list[Event], checkpoint_at: int | None) -> Pipeline:
    """Fold and commit as the core does, every 25 events, with one checkpoint on the way."""
    pipeline, pending = make_pipeline(settings), Pending()
    for number, event in enumerate(events, 1):
        pending.take(pipeline.step(event))
        if number % 25 == 0 or number == len(events):
            store.commit(pending.batch(pipeline, checkpoint=number == checkpoint_at))
            pipeline.desk.changed, pending = False, Pending()
    return pipeline


def opened(settings: Settings) -> Store:
    return Store.open(settings.store.path, [(p.name, p.quantity) for p in settings.probes])


@pytest.mark.parametrize("checkpoint_at", [None, 25, 500])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_checkpoint_and_journal_give_the_same_memory(settings: Settings, seed: int, checkpoint_at: int | None) -> None:
    events = story(seed, 5)
    with opened(settings) as store:
        expected = live(settings, store, events, checkpoint_at).save()
    with opened(settings) as store:
        assert json.dumps(resume(settings, store).save()) == json.dumps(expected)


def test_a_new_store_begins_anew(settings: Settings) -> None:
    with opened(settings) as store:
        assert resume(settings, store).save() == make_pipeline(settings).save()


def test_an_unreadable_checkpoint_is_rebuilt_from_the_record(settings: Settings) -> None:
    with opened(settings) as store:
        expected = live(settings, store, story(4, 3), 25).save()
    db = sqlite3.connect(settings.store.path)
    db.execute("UPDATE checkpoint SET packed = x'00'")
    db.commit()
    db.close()
    with opened(settings) as store:
        assert json.dumps(resume(settings, store).save()) == json.dumps(expected)


def test_a_calibration_older_than_what_is_rebuilt_still_holds(settings: Settings) -> None:
    month = 30 * 86_400_000
    acts = [Act("a", T0, "calibrated", {"probe": "ph", "points": [[7.0, 7.2, 20.0], [10.0, 10.05, 20.0]]}),
            Act("b", T0 + 1, "calibrated", {"probe": "ph", "points": [[7.0, 9.2, 20.0]]})]  # fmt: skip
    later: list[Event] = [Sample("ph", T0 + month + n * 60_000, 7.3, T0 + month + n * 60_000) for n in range(30)]
    with opened(settings) as store:
        lived = live(settings, store, [*acts, *later], 25).watches["ph"].save()
    db = sqlite3.connect(settings.store.path)
    db.execute("UPDATE checkpoint SET packed = x'00'")
    db.commit()
    db.close()
    with opened(settings) as store:
        electrode = resume(settings, store).watches["ph"].save()["electrode"]
    assert electrode["history"] == lived["electrode"]["history"]
    assert electrode["history"]["kept"][0]["slope"] == pytest.approx(95.0)
    assert len(electrode["history"]["kept"]) == 1


def test_the_alarm_memory_of_the_last_commit_has_the_last_word(settings: Settings) -> None:
    with opened(settings) as store:
        pipeline = live(settings, store, story(5, 3), None)
        memory = pipeline.desk.save()
        memory["next_id"] += 7
        memory["memory"] = [row for row in memory["memory"] if row[0] != "ph-low"]
        db = sqlite3.connect(settings.store.path)
        db.execute("UPDATE state SET value = ? WHERE key = 'alarm memory'", (json.dumps(memory),))
        db.commit()
        db.close()
    with opened(settings) as store:
        desk = resume(settings, store).desk
    assert desk.next_id == memory["next_id"]
    assert ("ph-low", "ph") not in desk.memory


def test_other_limits_and_delays_hold_from_the_start_on(settings: Settings, tmp_path: Path) -> None:
    with opened(settings) as store:
        live(settings, store, story(5, 3), 25)
        before = store.alarm_memory()
    assert before is not None
    assert "ph-low" in before
    more = '[limits]\nph_low = 6.1\nph_crash = 5.5\n[alarms.ph-low]\non_delay = "1m"\noff_delay = "2m"\n'
    (tmp_path / "dawnline.toml").write_text(CONFIG + more, encoding="utf-8")
    changed = load(tmp_path / "dawnline.toml")
    with opened(changed) as store:
        pipeline = resume(changed, store)
    at, changes = pipeline.now, []
    assert pipeline.desk.next_id >= json.loads(before)["next_id"]
    open_ids = {memory.id for alarm, _, memory in pipeline.desk.active() if alarm == "ph-low" and not memory.ended}
    for minute in range(40):
        effects = pipeline.step(
            Sample("ph", at + minute * 60_000 + 1, 6.3 + 0.001 * (minute % 5), at + minute * 60_000 + 1)
        )
        changes += [(e.id, e.change) for e in effects if isinstance(e, Transition) and e.alarm == "ph-low"]
    assert changes == [(number, "returned") for number in open_ids]


def test_an_alarm_of_a_probe_that_is_gone_is_over_and_says_why(settings: Settings, tmp_path: Path) -> None:
    with opened(settings) as store:
        live(settings, store, story(5, 3), None)
        store_memory = json.loads(store.alarm_memory() or "{}")
    assert any(row[1] == "ph" for row in store_memory["memory"])
    (tmp_path / "dawnline.toml").write_text(CONFIG.replace('name = "ph"', 'name = "deep-ph"'), encoding="utf-8")
    renamed = load(tmp_path / "dawnline.toml")
    with opened(renamed) as store:
        pipeline = resume(renamed, store)
    effects = pipeline.advance(pipeline.now + MINUTE_MS)
    open_ids = {row[2]["id"] for row in store_memory["memory"] if row[1] == "ph" and not row[2]["ended"]}
    over = [e for e in effects if isinstance(e, Transition) and e.probe == "ph"]
    assert {e.id for e in over} == open_ids
    assert all(e.change == "returned" and "no longer in the configuration" in e.text for e in over)
    moved = [e for e in effects if isinstance(e, Moved) and e.probe == "ph"]
    assert {e.move for e in moved} == {"remove from service"}
    assert pipeline.desk.next_id >= store_memory["next_id"]  # no number is given twice
    assert not [probe for _, probe in pipeline.desk.memory if probe == "ph"]


def test_a_probe_taken_out_and_another_put_in(settings: Settings, tmp_path: Path) -> None:
    with opened(settings) as store:
        live(settings, store, story(6, 2), None)
    (tmp_path / "dawnline.toml").write_text(CONFIG.replace('"water"', '"deep"'), encoding="utf-8")
    changed = load(tmp_path / "dawnline.toml")
    with opened(changed) as store:
        pipeline = resume(changed, store)
    assert pipeline.watches["ph"].newest is not None
    assert pipeline.watches["deep"].newest is None


def test_a_probe_that_comes_back_reads_as_it_was_calibrated(settings: Settings, tmp_path: Path) -> None:
    """It was away for repair: the run without it kept a memory that does not know it."""
    points = {"probe": "ph", "points": [[7.0, 7.2, 20.0], [10.0, 10.05, 20.0]]}
    begun: list[Event] = [Sample("ph", T0, 7.3, T0), Act("a", T0 + 1, "calibrated", points)]
    with opened(settings) as store:
        live(settings, store, begun, None)
    (tmp_path / "dawnline.toml").write_text(CONFIG.replace('name = "ph"', 'name = "spare"'), encoding="utf-8")
    without = load(tmp_path / "dawnline.toml")
    with opened(without) as store:
        pipeline = resume(without, store)
        pending = Pending()
        pending.take(pipeline.step(Sample("spare", T0 + MINUTE_MS, 7.3, T0 + MINUTE_MS)))
        store.commit(pending.batch(pipeline, checkpoint=True))
    with opened(settings) as store:
        back = resume(settings, store).watches["ph"].save()["electrode"]["history"]["kept"]
        again = resume(settings, store).reminders.done["probe ph"]
    assert [(each["slope"], each["at"]) for each in back] == [(pytest.approx(95.0), T0 + 1)]
    assert [row[1] for row in again] == ["a"]
