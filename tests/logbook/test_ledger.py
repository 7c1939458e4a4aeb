from __future__ import annotations

from typing import Any

from dawnline.event import Act
from dawnline.logbook.ledger import ledger, standing

EIGHT = "1970-01-01T08:00:00+00:00"


def act(name: str, came: int, kind: str, **body: Any) -> Act:
    return Act(name, came, kind, body, "ada")


ENTERED = [
    act("a", 100, "rain", mm=5),
    act("b", 200, "hand-test", kh_dkh=3, when=EIGHT),
    act("p", 250, "cleaning", probe="ph"),
    act("c", 300, "note", note="a heron"),
    act("d", 400, "shelve", id=1, **{"for": "2h"}),
    act("e", 500, "an-act-of-tomorrow", x=1),
]


def correct(name: str, entry: str, kind: str, **body: Any) -> Act:
    return Act(name, 900, "correct", {"entry": entry, "kind": kind, "at": 100, "body": body}, "ada")


def test_entries_stand_by_the_time_they_are_about() -> None:
    assert [(each.act.id, each.at) for each in ledger(ENTERED)] == [
        ("a", 100), ("p", 250), ("c", 300), ("b", 8 * 3_600_000)
    ]  # fmt: skip
    assert [each.text() for each in ledger(ENTERED)] == [
        "rain: 5 mm", "cleaning: probe ph", "note: a heron", "hand-test: KH 3 dKH"
    ]  # fmt: skip


def test_the_last_correction_stands_and_the_history_is_kept() -> None:
    entries = ledger([*ENTERED, correct("x", "a", "rain", mm=15), correct("y", "a", "rain", mm=25, when=EIGHT)])
    found = next(each for each in entries if each.act.id == "a")
    assert found.text() == "rain: 25 mm"
    assert found.at == 8 * 3_600_000
    assert found.act.body == {"mm": 5}
    assert [each.id for each in found.history] == ["x", "y"]


def test_what_is_withdrawn_stands_no_more_until_it_is_corrected_again() -> None:
    withdrawn = [*ENTERED, act("x", 900, "withdraw", entry="a", at=100)]
    assert [each.withdrawn for each in ledger(withdrawn)] == [True, False, False, False]
    assert "a" not in [each.id for each in standing(withdrawn)]
    again = ledger([*withdrawn, correct("y", "a", "rain", mm=7)])[0]
    assert not again.withdrawn
    assert [each.kind for each in again.history] == ["withdraw", "correct"]


def test_corrections_of_what_is_not_there_change_nothing() -> None:
    assert ledger([*ENTERED, correct("x", "zz", "rain", mm=1), act("y", 1, "withdraw", entry="d", at=400)]) == ledger(
        ENTERED
    )


def test_the_acts_as_they_stand_keep_what_is_no_entry_about_the_pond() -> None:
    stood = standing([*ENTERED, correct("x", "a", "rain", mm=15)])
    assert [(each.id, each.at) for each in stood] == [
        ("a", 100), ("p", 250), ("c", 300), ("d", 400), ("e", 500), ("b", 8 * 3_600_000)
    ]  # fmt: skip
    assert stood[0].body == {"mm": 15}
