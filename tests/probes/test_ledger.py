"""Which MQTT message is new, which is pending, which is on disk."""

from __future__ import annotations

from dawnline.probes.links.ledger import REMEMBERED, Ledger

A, B = (1, b"aaaaaaaa"), (2, b"bbbbbbbb")


def test_a_message_is_new_then_pending_then_committed() -> None:
    ledger = Ledger([])
    assert ledger.arrived(A, duplicate=False) == "new"
    assert ledger.arrived(A, duplicate=True) == "pending"
    assert ledger.commit(A)
    assert ledger.arrived(A, duplicate=True) == "committed"


def test_a_duplicate_nobody_has_seen_is_new() -> None:
    assert Ledger([B]).arrived(A, duplicate=True) == "new"


def test_what_the_last_run_committed_is_known() -> None:
    ledger = Ledger([A])
    assert ledger.arrived(A, duplicate=True) == "committed"
    assert ledger.arrived(A, duplicate=False) == "new"  # the id in use again, for the same text


def test_in_a_new_session_old_ids_are_void() -> None:
    ledger = Ledger([B])
    ledger.arrived(A, duplicate=False)
    ledger.new_session()
    assert ledger.arrived(A, duplicate=False) == "new"
    assert ledger.arrived(B, duplicate=True) == "new"
    assert not ledger.commit(A)  # that of the old session
    assert ledger.commit(A)  # that of the new one


def test_what_could_not_be_passed_on_is_new_again() -> None:
    ledger = Ledger([])
    ledger.arrived(A, duplicate=False)
    ledger.forget(A)
    assert ledger.arrived(A, duplicate=True) == "new"


def test_it_remembers_only_so_many() -> None:
    ledger = Ledger((n, b"") for n in range(REMEMBERED + 1))
    assert ledger.arrived((0, b""), duplicate=True) == "new"
    assert ledger.arrived((REMEMBERED, b""), duplicate=True) == "committed"
