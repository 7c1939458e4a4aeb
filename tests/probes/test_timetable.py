"""Who is asked when."""

from __future__ import annotations

from dawnline.probes.links.timetable import LONGEST_PAUSE_S, Timetable, Turn


def test_each_is_asked_on_its_own_beat() -> None:
    table = Timetable([Turn("fast", 10.0, 1), Turn("slow", 25.0, 2)])
    asked = []
    now = 100.0
    for _ in range(8):
        turn = table.next()
        now = max(now, turn.due_s) + 0.5
        asked.append((turn.what, round(turn.due_s)))
        table.answered(turn, now)
    assert asked[:2] == [("fast", 0), ("slow", 0)]
    assert [due for what, due in asked if what == "fast"] == [0, 110, 120, 130, 140, 150]
    assert [due for what, due in asked if what == "slow"] == [0, 126]


def test_a_beat_that_was_lost_is_not_made_up_for() -> None:
    table = Timetable([Turn("one", 10.0, 1)])
    table.answered(table.next(), 100.0)
    assert table.next().due_s == 110.0
    table.answered(table.next(), 500.0)
    assert table.next().due_s == 510.0


def test_silence_doubles_the_pause_of_the_whole_device_up_to_a_minute() -> None:
    table = Timetable([Turn("a", 10.0, "device"), Turn("b", 10.0, "device"), Turn("c", 10.0, "other")])
    pauses = []
    for _ in range(5):
        turn = next(t for t in table._turns if t.what == "a")
        table.silent(turn, 1000.0)
        pauses.append(turn.due_s - 1000.0)
        assert next(t for t in table._turns if t.what == "b").due_s == turn.due_s
    assert pauses == [10.0, 20.0, 40.0, LONGEST_PAUSE_S, LONGEST_PAUSE_S]
    assert table.next().what == "c"
    table.answered(turn, 2000.0)
    table.silent(turn, 3000.0)
    assert turn.due_s == 3010.0


def test_a_slow_beat_is_not_made_faster_by_silence() -> None:
    table = Timetable([Turn("slow", 600.0, 1)])
    for _ in range(100):
        table.silent(table.next(), 0.0)
    assert table.next().due_s == 600.0


def test_after_a_restart_all_are_due() -> None:
    table = Timetable([Turn("a", 10.0, 1), Turn("b", 10.0, 2)])
    for _ in range(3):
        table.silent(table.next(), 100.0)
    table.restart()
    assert {t.due_s for t in table._turns} == {0.0}
    table.silent(table.next(), 100.0)
    assert max(t.due_s for t in table._turns) == 110.0
