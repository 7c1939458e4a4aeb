from __future__ import annotations

import sqlite3
import tempfile
from pathlib import Path
from typing import TypeAlias

from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.event import Act, Delivered
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.store.batch import Batch
from dawnline.store.record import ActRow
from dawnline.store.store import Store

PROBES = [("water", "temperature"), ("ph", "ph"), ("air", "temperature")]
PLACE = {name: place for place, (name, _) in enumerate(PROBES)}
REVERSED = PROBES[::-1]

Seen: TypeAlias = tuple[int, Sample | Act | Delivered]

delays = st.just(0) | st.just(0) | st.integers(-5, 40)
one_probe = st.tuples(st.sampled_from(sorted(PLACE)), delays, st.sampled_from([7.0, 7.1, 7.2]), st.sampled_from(Reason))
steps = st.lists(
    st.lists(one_probe, min_size=1, max_size=6) | st.sampled_from(["act", "delivered", "retry"]), max_size=25
)


def sequence(plan: list[list[tuple[str, int, float, Reason]] | str]) -> list[list[tuple[Seen, Batch]]]:
    """What a pipeline would see, batch by batch, and what it would have stored."""
    stored: set[tuple[str, int, float]] = set()
    found = []
    for i, what in enumerate(plan):
        stamp = 100 + 3 * i
        step: list[tuple[Seen, Batch]] = []
        if what == "act":
            act = Act(f"a{i}", stamp - 50, "note", {"text": "fed", "n": [i]}, "ada")
            step.append(((stamp, act), Batch(acts=[ActRow(act, i % 2 == 0, "so", stamp)])))
        elif isinstance(what, str):
            outcome = Delivered(f"k{i}", stamp, what, "text")  # type: ignore[arg-type]
            step.append(((stamp, outcome), Batch(outcomes=[outcome])))
        else:
            for probe, delay, value, reason in sorted(what, key=lambda s: (PLACE[s[0]], stamp - s[1])):
                reading = Reading(probe, stamp - delay, value, stamp, Flag.SUSPECT, reason)
                if reading[:3] not in stored:  # an exact repeat is dropped before it is kept
                    stored.add(reading[:3])
                    sample = Sample(*reading[:4], reason is not Reason.UNDATED)
                    step.append(((stamp, sample), Batch([reading])))
        found.append(step)
    return found


def merged(batches: list[Batch]) -> Batch:
    return Batch(
        [r for b in batches for r in b.readings],
        acts=[a for b in batches for a in b.acts],
        outcomes=[o for b in batches for o in b.outcomes],
    )


@settings(max_examples=60)
@given(steps, st.integers(1, 7), st.integers(90, 180))
def test_the_journal_is_what_was_seen_in_the_order_it_was_seen(
    plan: list[list[tuple[str, int, float, Reason]] | str], steps_a_commit: int, cursor: int
) -> None:
    seen = sequence(plan)
    with tempfile.TemporaryDirectory() as folder:
        Store.open(Path(folder) / "s.db", REVERSED).close()  # ids are not in the order of the configuration
        with Store.open(Path(folder) / "s.db", PROBES) as store:
            for i in range(0, len(seen), steps_a_commit):
                store.commit(merged([batch for step in seen[i : i + steps_a_commit] for _, batch in step]))
            expected = [event for step in seen for event, _ in step if event[0] > cursor]
            assert list(store.journal_since(cursor)) == expected


def test_a_probe_that_is_no_longer_configured_is_left_out(store: Store, path: Path) -> None:
    store.commit(Batch([Reading(p, 1, 7.0, 1, Flag.GOOD, Reason.NONE) for p in ("ph", "water")]))
    store.close()
    with Store.open(path, [("ph", "ph")]) as later:
        assert list(later.journal_since(0)) == [(1, Sample("ph", 1, 7.0, 1))]


def test_an_act_is_replayed_when_it_was_seen_not_when_it_is_about(store: Store) -> None:
    act = Act("a", 5, "water-change", {"share": 0.15})
    store.commit(Batch(acts=[ActRow(act, True, "noted", 1000)]))
    assert list(store.journal_since(999)) == [(1000, act)]
    assert list(store.journal_since(1000)) == []


def test_late_readings_are_found_by_their_index_and_nothing_is_sorted(store: Store, path: Path) -> None:
    asked: list[str] = []
    store._db.set_trace_callback(asked.append)
    list(store.journal_since(5))
    db = sqlite3.connect(path)
    plans = [row[3] for sql in asked if sql.startswith("SELECT") for row in db.execute(f"EXPLAIN QUERY PLAN {sql}")]
    db.close()
    assert not [plan for plan in plans if "TEMP B-TREE" in plan]
    assert not [plan for plan in plans if plan.startswith("SCAN")]
    assert any("readings_late" in plan for plan in plans)
