"""When old readings are let go: not before their copy, not while the store refuses, not all at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from dawnline.duration import DAY_MS
from dawnline.reading import Flag, Reading, Reason
from dawnline.service import look_over
from dawnline.service.keeping import Keeping
from dawnline.service.look_over import LookOver
from dawnline.service.retention import BACKLOG_S, Retention
from dawnline.settings import load
from dawnline.store import retention
from dawnline.store.batch import Batch
from dawnline.store.store import Store
from dawnline.store.upkeep import damaged

PROBES = [("ph", "ph")]
NOW = 100 * DAY_MS


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    rows = [Reading("ph", at, 7.0 + at / NOW, at, Flag.GOOD, Reason.NONE) for at in range(0, NOW, DAY_MS // 10)]
    with Store.open(tmp_path / "pond.db", PROBES) as made:
        made.commit(Batch(readings=rows))
        yield made


def left(store: Store) -> int:
    return int(store._db.execute("SELECT count(*) FROM readings").fetchone()[0])


def test_steps_are_small_and_apart(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    go = retention.let_go
    monkeypatch.setattr(retention, "let_go", lambda db, before, copied: go(db, before, copied, 100))
    clock = [0.0]
    keeps = Retention(40 * DAY_MS, monotonic_s=lambda: clock[0])
    seen = []
    for _ in range(100):
        keeps.turn(store, NOW)
        seen.append(left(store))
        clock[0] += BACKLOG_S / 2
    steps = [before - after for before, after in pairwise(seen)]
    assert seen[0] == 1000  # not in the first moments
    assert max(steps) <= 100
    assert all(not (one and other) for one, other in pairwise(steps))
    assert seen[-1] == 400


def test_without_the_setting_nothing_goes(store: Store) -> None:
    clock = [0.0]
    keeps = Retention(None, monotonic_s=lambda: clock[0])
    for _ in range(5):
        clock[0] += 90_000
        keeps.turn(store, NOW)
    assert left(store) == 1000


def test_what_is_not_copied_waits_and_status_hears_of_it(store: Store) -> None:
    clock, copied = [0.0], [-(1 << 62)]
    keeps = Retention(40 * DAY_MS, lambda: copied[0], lambda: clock[0])
    clock[0] += 100
    keeps.turn(store, NOW)
    assert left(store) == 1000
    assert keeps.as_json()["waiting"] == 0
    copied[0] = NOW
    clock[0] += 1000
    keeps.turn(store, NOW)
    assert left(store) == 400
    assert keeps.as_json()["waiting"] is None


def test_a_clock_far_ahead_lets_no_more_go_than_a_day_for_a_day(store: Store) -> None:
    """It says 2 years later, for three days: what is kept is counted in days on which something was recorded."""
    clock = [0.0]
    keeps = Retention(40 * DAY_MS, monotonic_s=lambda: clock[0])
    for day in range(3):
        ahead = NOW + (730 + day) * DAY_MS
        store.commit(Batch(readings=[Reading("ph", ahead + n, 7.0, ahead + n, Flag.GOOD, Reason.NONE)
                                     for n in range(0, DAY_MS, DAY_MS // 10)]))  # fmt: skip
        for _ in range(5):
            clock[0] += 90_000
            keeps.turn(store, ahead + DAY_MS - 1)
        assert left(store) == 400


def test_a_board_that_was_away_for_long_keeps_what_it_has(store: Store) -> None:
    clock = [100.0]
    Retention(101 * DAY_MS, monotonic_s=lambda: clock[0] * 1000).turn(store, 3 * NOW)
    assert left(store) == 1000


@pytest.mark.parametrize("text", ['"29d"', '"0d"', "400"])
def test_a_time_too_short_is_refused(tmp_path: Path, text: str) -> None:
    config = (Path(__file__).parents[2] / "config" / "dawnline.toml").read_text(encoding="utf-8")
    (tmp_path / "dawnline.toml").write_text(config.replace("[store]\n", f"[store]\nkeep_raw = {text}\n"))
    with pytest.raises(Exception, match="keep_raw"):
        load(tmp_path / "dawnline.toml")


def test_damage_found_beside_the_watch_sets_the_file_aside(
    store: Store, monkeypatch: pytest.MonkeyPatch, eventually: Callable[..., None]
) -> None:
    monkeypatch.setattr(look_over, "WHOLE_BYTES", 1)
    rows = [Reading("ph", NOW + n, 7.0, NOW + n, Flag.GOOD, Reason.NONE) for n in range(3000)]
    store.commit(Batch(readings=rows))
    store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with store.path.open("r+b") as file:
        file.seek(40 * 1024)
        file.write(b"\xa5" * 3 * 1024)
    keeping = Keeping(store, list)
    keeping.look_over = LookOver(store.path, 0.0)
    keeping.look_over.start()
    eventually(lambda: keeping.look_over is not None and keeping.look_over.found is not None, "the damage is found")
    assert not keeping.commit(Batch(cursor=NOW), at=NOW).stored
    assert len(damaged(store.path)) == 1
    assert keeping.wants_all()
    assert keeping.commit(Batch(cursor=NOW), at=NOW).stored
    keeping.look_over.stop()


def test_a_sound_file_is_looked_over_and_a_stop_is_heard(
    store: Store, monkeypatch: pytest.MonkeyPatch, eventually: Callable[..., None]
) -> None:
    monkeypatch.setattr(look_over, "WHOLE_BYTES", 1)
    looks = LookOver(store.path, 0.0)
    looks.start()
    eventually(looks._thread.is_alive, "it runs")
    looks.stop()
    assert not looks._thread.is_alive()
    assert looks.found is None
