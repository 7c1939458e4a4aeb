"""Readings taken before the clock is known to be set: kept by boot and monotonic time until they can be dated.

Acts, outcomes, transitions and moves of such a stretch stand in their own tables under provisional times, which all lie
after the dated record; dating moves them along.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import islice
from typing import Final, NamedTuple, TypeAlias

from dawnline.errors import StoreError
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.store.readings import add_readings

Row: TypeAlias = tuple[int, int, float, int, int, int | None]

ROWS_AT_ONCE: Final = 2000  # weeks of readings are never in memory together


class Stretch(NamedTuple):
    """Provisional pond time [ms] is `since` and later, which is after the dated record. It is the milliseconds since
    the boot named `boot`, plus `offset`.
    """

    boot: str
    since: int
    offset: int


def put_stretch(db: sqlite3.Connection, stretch: Stretch) -> None:
    """A provisional stretch begins."""
    db.execute("INSERT OR REPLACE INTO stretch (id, boot, since, offset) VALUES (0, ?, ?, ?)", stretch)


def get_stretch(db: sqlite3.Connection) -> Stretch | None:
    """The stretch that has not been dated yet; None where all is."""
    row = db.execute("SELECT boot, since, offset FROM stretch").fetchone()
    return row and Stretch(*row)


def rows_of(readings: Iterable[Reading], ids: Mapping[str, int], offset: int) -> list[Row]:
    """Rows to insert; the sender's time is kept where it gave one. Raises StoreError for a probe without an id."""
    try:
        return [
            (ids[each.probe], each.received_at - offset, each.value, int(each.flag), int(each.reason),
             None if each.at == each.received_at else each.at)
            for each in readings
        ]  # fmt: skip
    except KeyError as error:
        raise StoreError(f"has no probe {error}: name it when the store is opened") from None


def add_provisional(db: sqlite3.Connection, rows: Iterable[Row]) -> None:
    """Append rows, in the order in which the pipeline saw them."""
    db.executemany("INSERT INTO provisional (probe, monotonic, value, flag, reason, sent) VALUES (?,?,?,?,?,?)", rows)


def samples(db: sqlite3.Connection, offset: int) -> Iterator[tuple[int, Sample]]:
    """Every sample that is not dated, with its sequence number, as received at its monotonic time plus `offset`."""
    found = db.execute(
        "SELECT seq, name, monotonic + ?, value, reason, sent FROM provisional JOIN probes ON probes.id = probe "
        "ORDER BY seq",
        (offset,),
    )
    for seq, probe, at, value, reason, sent in found:
        dated = sent is not None or reason != Reason.UNDATED  # a sender's time is judged anew
        yield seq, Sample(probe, at if sent is None else sent, value, at, dated)


def latest_provisional(db: sqlite3.Connection, probe: str) -> Reading | None:
    """The last reading of one probe that is not dated, at its provisional time."""
    found = db.execute(
        "SELECT monotonic + (SELECT offset FROM stretch), value, flag, reason FROM provisional "
        "WHERE probe = (SELECT id FROM probes WHERE name = ?) ORDER BY seq DESC LIMIT 1",
        (probe,),
    )
    for at, value, flag, reason in found.fetchall():
        return Reading(probe, at, value, at, Flag(flag), Reason(reason))
    return None


def shift(db: sqlite3.Connection, since: int, by: int) -> None:
    """All that happened at `since` (provisional ms) and later, readings excepted, lies `by` ms later in truth."""
    db.execute(
        "UPDATE acts SET at = iif(at >= ?1, at + ?2, at), received_at = received_at + ?2 WHERE received_at >= ?1",
        (since, by),
    )
    db.execute("UPDATE outcomes SET at = at + ?2 WHERE at >= ?1", (since, by))
    db.execute("UPDATE outbox SET at = at + ?2 WHERE at >= ?1", (since, by))
    db.execute("UPDATE storing SET at = at + ?2 WHERE at >= ?1", (since, by))
    db.execute("UPDATE moves SET at = at + ?2 WHERE at >= ?1", (since, by))
    db.execute(
        "UPDATE transitions SET at = at + ?2, since = iif(since >= ?1, since + ?2, since) WHERE at >= ?1", (since, by)
    )


def keep_others(db: sqlite3.Connection, known: Collection[int], offset: int) -> None:
    """Readings of probes that are not among the `known` ids (the configuration has changed): nobody judges them anew,
    so they go into the record as they were judged, at their monotonic time plus `offset`.
    """
    found = db.execute(
        "SELECT probe, monotonic + ?, sent, value, flag, reason FROM provisional ORDER BY seq", (offset,)
    )
    others = (row for row in found if row[0] not in known)
    while some := list(islice(others, ROWS_AT_ONCE)):
        rows = [(probe, at if sent is None else sent, *judged, at - (at if sent is None else sent))
                for probe, at, sent, *judged in some]  # fmt: skip
        add_readings(db, rows)


def forget(db: sqlite3.Connection) -> None:
    """The stretch has been dated, or never will be."""
    db.execute("DELETE FROM provisional")
    db.execute("DELETE FROM stretch")


def leave_undated(db: sqlite3.Connection) -> None:
    """The boot of the stretch is over and its hour never became known: its readings go into the record where they
    stand in order, `not evaluated`.
    """
    stretch = get_stretch(db)
    if stretch is None:
        return
    found = db.execute("SELECT probe, monotonic, value FROM provisional ORDER BY seq")
    while some := list(islice(found, ROWS_AT_ONCE)):
        flag, reason = int(Flag.NOT_EVALUATED), int(Reason.UNDATED)
        add_readings(db, [(probe, at + stretch.offset, value, flag, reason, 0) for probe, at, value in some])
    forget(db)
