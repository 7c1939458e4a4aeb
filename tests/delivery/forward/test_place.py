"""How far the copy has come, and how far back it goes after a broken connection."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from dawnline.delivery.forward.place import LOOK_BACK_S, START, Place, Progress, Row, Trail, progress_file


def place(at: int) -> Place:
    return Place(at, "ph", at, 0)


def row(at: int) -> Row:
    return Row(place(at), "ph", 7.0, 1)


def test_goes_back_by_a_minute_at_least() -> None:
    trail = Trail(START)
    for second in range(0, 300, 5):
        trail.confirmed(place(second), float(second))
    trail.broken(295.0)
    assert place(150) < trail.here <= place(295 - int(LOOK_BACK_S))


def test_on_a_link_that_breaks_all_the_time_it_still_gets_on() -> None:
    trail, furthest = Trail(START), []
    for second in range(4 * 3600):
        trail.confirmed(place((trail.here.at if trail.here.probe else 0) + 10), float(second))
        trail.settle(float(second))
        if second % 7 == 0:
            trail.broken(float(second))
        furthest.append(trail.here.at)
    assert max(furthest) > 3000 * 10  # of an hour's 3600 steps, nearly all lead on


@given(
    steps=st.lists(
        st.tuples(st.floats(0.5, 30), st.sampled_from(["on", "on", "on", "broken", "death"])), min_size=1, max_size=200
    )
)
def test_whenever_the_server_dies_nothing_is_missing_in_the_end(steps: list[tuple[float, str]]) -> None:
    """It forgets what it was given in the last 20 s; each death breaks the connection."""
    trail, now = Trail(START), 0.0
    kept: dict[int, float] = {}

    def send() -> None:
        at = trail.here.at + 1 if trail.here.probe else 1
        kept[at] = now
        trail.confirmed(place(at), now)
        trail.settle(now)

    for wait, what in steps:
        now += wait
        send()
        if what == "death":
            for at in [at for at, when in kept.items() if now - when < 20]:
                del kept[at]
        if what != "on":
            trail.broken(now)
    for _ in range(1500):  # quiet at last, for two hours
        now += 5.0
        send()
    assert sorted(kept) == list(range(1, max(kept) + 1))
    assert trail.here >= trail.safe > START


def test_saved_and_loaded(tmp_path: Path) -> None:
    progress = Progress(progress_file(tmp_path / "pond.db"), place(5))
    progress.keep_aside([row(3), row(4)], "no such field")
    progress.keep_aside([row(3)], "no such field")  # the same again, after a broken connection
    progress.save()
    assert Progress.load(progress.file) == progress
    assert progress.refused == 2


def test_a_damaged_file_begins_again(tmp_path: Path) -> None:
    file = progress_file(tmp_path / "pond.db")
    for content in ("", "{", "[]", '{"place": [1], "set_aside": [], "refused": 0}', '{"place": 3}'):
        file.write_text(content)
        assert Progress.load(file) == Progress(file)


def test_what_is_set_aside_is_bounded(tmp_path: Path) -> None:
    progress = Progress(tmp_path / "x")
    for at in range(300):
        progress.keep_aside([row(at)], "no")
    assert progress.refused == 300
    assert len(progress.set_aside) == 100
