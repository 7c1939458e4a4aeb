"""The running service, as a keeper meets it."""

from __future__ import annotations

import json
import signal
import threading
import time
from collections.abc import Callable
from typing import Any

import pytest

from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.reader import Reader

from ..web import Handler, serving

Eventually = Callable[..., None]
CONSOLE = '[[people]]\nname = "Ada"\naddresses = ["console:"]\n'
QUICK = '[alarms.ph-low]\non_delay = "1m"\n[alarms.ph-crash]\non_delay = "1m"\n'
FAST = "600@2026-06-10T22:00:00+02:00@{origin}"  # ten pond minutes a second


def listening(pond: Any, eventually: Eventually) -> None:
    """Wait until the service has the port open; the first line of a fresh port may be cut and is not counted on."""
    eventually(lambda: pond.folder.joinpath("runtime").glob("*.now.json") and "watching" in pond.log, "watching")
    eventually(lambda: pond.status().get("links", [{}])[0].get("state") == "connected", "connected")
    pond.say(b"\n")


def good(pond: Any) -> int:
    links = pond.status().get("links", [])
    return sum(link["good"] for link in links)


def test_readings_are_stored_shown_and_survive_a_stop(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.plug()
    pond.start()
    listening(pond, eventually)
    pond.say(b"ph=7.12 temp=18.4\nph=7.13 temp=18.5\n")
    eventually(lambda: good(pond) >= 2, "two good lines")
    data = pond.status()
    assert data["version"] == 1
    assert data["running"] is True
    assert data["probes"]["ph"]["value"] == 7.13
    assert data["probes"]["ph"]["flag"] == "good"
    assert pond.stop() == 0
    with Reader.open(pond.folder / "pond.db") as reader:
        assert [r.value for r in reader.readings("ph", 0, 1 << 60)] == [7.12, 7.13]
        assert [r.value for r in reader.readings("water", 0, 1 << 60)] == [18.4, 18.5]
    after = pond.command("status")
    assert after.returncode == 1
    assert "not running" in after.stdout


def test_every_class_of_bad_line_is_counted_and_visible(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.plug()
    pond.start()
    listening(pond, eventually)
    bad = [b"hello", b"ph=seven", b"ph=7,1", b"\xff\xfe\x00", b"x" * 300, b'{"ph": ', b"ph=nan"]
    pond.say(b"\n".join(bad) + b"\nph=7.2\n")
    eventually(lambda: good(pond) >= 1, "a good line after the bad ones")
    link = pond.status()["links"][0]
    assert sum(link["bad"].values()) >= len(bad)
    assert len(link["bad"]) >= 5
    shown = pond.command("status").stdout
    assert all(f"refused: {why}" in shown for why in link["bad"])


@pytest.mark.parametrize("sig", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_well_without_port_or_person(
    make_pond: Callable[..., Any], eventually: Eventually, sig: int
) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log, "watching")
    assert pond.status()["links"][0]["state"] == "waiting"
    assert pond.stop(sig=sig) == 0
    assert "Traceback" not in pond.log


def test_unplugged_and_plugged_in_again(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.plug()
    pond.start()
    listening(pond, eventually)
    pond.say(b"ph=7.1\n")
    eventually(lambda: good(pond) == 1, "a line")
    pond.cable.unplug()
    eventually(lambda: pond.status()["links"][0]["state"] == "waiting", "the unplugging noticed")
    pond.plug()
    eventually(lambda: pond.status()["links"][0]["state"] == "connected", "connected again")
    pond.say(b"\nph=7.2\n")
    eventually(lambda: good(pond) >= 2, "a line again")


def lowered(pond: Any, eventually: Eventually, origin: float) -> None:
    """Run in fast pond time and let the pH be low until an alarm is open."""
    pond.plug()
    pond.start(DAWNLINE_CLOCK_RATE=FAST.format(origin=origin))
    listening(pond, eventually)

    def low() -> bool:
        pond.say(b"ph=6.20 temp=18.0\n")
        return bool(pond.status().get("alarms"))

    eventually(low, "the alarm")


def test_acts_reach_the_service_and_report_their_verdict(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond(CONSOLE + QUICK)
    lowered(pond, eventually, time.time())
    assert pond.command("status").returncode == 1
    found = pond.command("alarms", "acknowledge", "1")
    assert (found.returncode, found.stdout.strip()) == (0, "acknowledged")
    again = pond.command("alarms", "acknowledge", "1")
    assert again.returncode == 1
    assert "refused: cannot acknowledge" in again.stderr
    assert pond.command("alarms", "acknowledge", "99").returncode == 1
    assert pond.command("alarms", "shelve", "1", "--for", "9h").returncode == 0
    assert "shelved" in pond.command("alarms", "list").stdout
    assert pond.command("alarms", "unshelve", "1").returncode == 0
    assert pond.command("logbook", "add", "hand-test", "kh_dkh=3", "note=after the rain").returncode == 0
    wrong = pond.command("logbook", "add", "hand-test", "kh=3")
    assert wrong.returncode == 2
    assert "'3' without a unit" in wrong.stderr
    assert pond.command("probes", "out-of-service", "ph", "--for", "30m").returncode == 0
    assert pond.command("probes", "return", "ph").returncode == 0
    assert "hand-test: KH 3 dKH; after the rain" in pond.command("logbook", "list").stdout
    assert pond.stop() == 0


def test_an_act_without_a_service_waits_and_is_taken_once(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log, "watching")
    pond.stop()
    found = pond.command("logbook", "add", "note", "note=herons")
    assert found.returncode == 1
    assert "queued" in found.stderr
    for _ in range(2):
        pond.start()
        eventually(lambda: "herons" in pond.command("logbook", "list").stdout, "the note taken")
        pond.stop()
    assert pond.command("logbook", "list").stdout.count("herons") == 1


def test_killed_between_commit_and_answer_the_act_is_answered_not_doubled(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log, "watching")
    pond.command("logbook", "add", "note", "note=herons")
    pond.kill()
    # As it stands in the inbox when the service dies after its commit and before its answer.
    import sqlite3

    with Inbox.open(inbox_path(pond.folder / "pond.db")) as inbox:
        pass
    db = sqlite3.connect(inbox_path(pond.folder / "pond.db"))
    db.execute("UPDATE acts SET accepted = NULL, text = NULL")
    db.commit()
    act_id = db.execute("SELECT id FROM acts").fetchone()[0]
    db.close()
    pond.start()
    with Inbox.open(inbox_path(pond.folder / "pond.db")) as inbox:
        eventually(lambda: inbox.verdict(act_id) == (True, "noted as note: herons"), "the verdict")
    pond.stop()
    assert pond.command("logbook", "list").stdout.count("herons") == 1


class Stubborn(Handler):
    """A web hook that hangs."""

    began, release = threading.Event(), threading.Event()

    def asked(self) -> None:
        Stubborn.began.set()
        Stubborn.release.wait()


def test_a_delivery_that_hangs_delays_neither_the_watch_nor_the_stop(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    with serving(Stubborn) as url:
        pond = make_pond(f'[[people]]\nname = "Hook"\naddresses = ["{url}/"]\n{QUICK}')
        lowered(pond, eventually, time.time())
        eventually(Stubborn.began.is_set, "an attempt")
        before = good(pond)
        pond.say(b"ph=6.21 temp=18.0\n")
        eventually(lambda: good(pond) > before, "readings while the delivery hangs")
        assert pond.stop() == 0  # and nobody has answered yet
        Stubborn.release.set()
    with Reader.open(pond.folder / "pond.db") as reader:
        states = reader.outbox().keys()
    assert states & {"trying", "waiting"}  # it is tried again in the next run
    assert "delivered" not in states


def test_the_present_is_always_whole(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: list((pond.folder / "runtime").glob("*.now.json")), "now.json")
    path = next((pond.folder / "runtime").glob("*.now.json"))
    seen = set()

    def looked() -> bool:
        seen.add(json.loads(path.read_text(encoding="utf-8"))["written_at"])
        return len(seen) >= 3

    eventually(looked, "three presents")
    pond.kill()
    stale = path.read_text(encoding="utf-8")
    path.write_text(json.dumps({**json.loads(stale), "written_at": 1000.0}), encoding="utf-8")
    assert "NOBODY WATCHES" in pond.command("status").stdout


def test_status_is_well_only_when_everything_is(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log and pond.status().get("links"), "watching")
    assert pond.command("status").returncode == 1  # the port is not there
    pond.plug()
    eventually(lambda: pond.command("status").returncode == 0, "connected")
    assert "process" in pond.command("check").stdout


def test_a_person_who_cannot_be_reached_is_seen(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond('[[people]]\nname = "Ada"\naddresses = ["http://127.0.0.1:1/"]\n' + QUICK)
    lowered(pond, eventually, time.time())
    eventually(lambda: "Ada" in pond.status()["post"]["failing"], "the failure in status")
    assert "Ada cannot be reached" in pond.command("status").stdout
    assert pond.stop() == 0
    assert pond.status()["post"]["open"] >= 1


def test_a_clock_that_becomes_known_dates_what_was_measured_before(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond('[clock]\ntrust = "mark"\nmark = "MARK"\n')
    mark = pond.folder / "clock-is-set"
    pond.config.write_text(pond.config.read_text().replace("MARK", str(mark)))
    pond.plug()
    began_ms = time.time() * 1000
    pond.start()
    listening(pond, eventually)
    pond.say(b"ph=7.12 temp=18.4\nph=7.13 temp=18.5\n")
    eventually(lambda: good(pond) >= 2, "two good lines")
    assert pond.status()["clock_set"] is False
    assert pond.stop() == 0
    shown = pond.command("status").stdout
    assert "pH 7.13" in shown
    assert "the clock is not known to be set" in shown
    assert "clock: stands at" in pond.command("check").stdout
    with Reader.open(pond.folder / "pond.db") as reader:
        assert list(reader.readings("ph", 0, 1 << 60)) == []
    mark.touch()
    pond.start()
    eventually(lambda: pond.status().get("running") and pond.status()["clock_set"], "a known clock")
    assert "set by time synchronisation" in pond.command("check").stdout
    assert pond.stop() == 0
    with Reader.open(pond.folder / "pond.db") as reader:
        readings = list(reader.readings("ph", 0, 1 << 60))
    assert [each.value for each in readings] == [7.12, 7.13]
    assert all(began_ms <= each.at <= time.time() * 1000 for each in readings)
