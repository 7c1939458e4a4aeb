"""Many ponds in one process, at a real broker: what they share, and that the trouble of one is not the others'."""

from __future__ import annotations

import signal
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.store.reader import Reader
from dawnline.store.store import Store

from ..configuration import broker, mqtt, place
from ..household import Household


def pond_of(name: str, port: int) -> str:
    """A pond of the club, which shares the thermometer in the yard."""
    probes = mqtt("ph", "ph", f"{name}/ph") + mqtt("air", "temperature", "yard/air")
    return place(name, f"{name}.db") + broker(port, 'client_id = "club"') + probes


class Club(Household):
    """A folder of ponds, their one process, and a sender."""

    def __init__(self, folder: Path, broker: Any, names: Sequence[str]) -> None:
        super().__init__(folder, {name: pond_of(name, broker.port) for name in names})
        self.broker, self.names = broker, names
        self.sent: dict[str, list[float]] = {name: [] for name in names}
        self.number = 0

    def by_name(self) -> dict[str, Any]:
        """The status of each."""
        return {row["pond"]: row for row in self.status()}

    def good(self, name: str) -> int:
        """Messages that this pond's link has taken in this run."""
        links = self.by_name().get(name, {}).get("links", [])
        return sum(link["good"] for link in links)

    def publish(self, *names: str, each: int = 1) -> None:
        """Values of their own for these ponds, taken by the broker when this returns."""
        client = paho.Client(CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", self.broker.port)
        client.loop_start()
        out = []
        for name in names:
            for _ in range(each):
                self.number += 1
                value = round(7 + self.number / 10_000, 4)
                self.sent[name].append(value)
                out.append(client.publish(f"{name}/ph", repr(value), qos=1))
        for info in out:
            info.wait_for_publish(10)
        client.disconnect()
        client.loop_stop()

    def stored(self, name: str, probe: str = "ph") -> list[float]:
        with Reader.open(self.config / f"{name}.db") as reader:
            return sorted(reading.value for reading in reader.readings(probe, 0, 1 << 45))


@pytest.fixture
def club(tmp_path: Path, mosquitto: Callable[..., Any]) -> Iterator[Callable[..., Club]]:
    made: list[Club] = []

    def make(*names: str, **more: Any) -> Club:
        made.append(Club(tmp_path, mosquitto(persistence=True, **more), names))
        return made[-1]

    yield make
    for each in made:
        each.end(signal.SIGKILL)


def test_ponds_share_one_connection_and_each_has_its_own_record(club: Any, eventually: Any) -> None:
    ponds = club("alder", "birch", "cedar")
    ponds.start()
    eventually(lambda: "watching-many" in ponds.log, "all watched")
    eventually(lambda: ponds.broker.log.count("as club-") == 2, "two connections, for probes and for state")
    ponds.publish("alder", "birch", "cedar", each=3)
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", ponds.broker.port)
    client.publish("yard/air", "18.5", qos=1)
    client.loop_start()
    eventually(lambda: all(ponds.good(name) == 4 for name in ponds.names), "all of it heard")
    client.disconnect()
    client.loop_stop()
    text = ponds.command("status")
    assert text.returncode == 0, text.stdout
    assert [line.split(":")[0] for line in text.stdout.splitlines()] == [f"well      {name}" for name in ponds.names]
    assert ponds.stop() == 0
    for name in ponds.names:
        assert ponds.stored(name) == ponds.sent[name]
        assert ponds.stored(name, "air") == [18.5]  # one message that three ponds want
    assert ponds.broker.log.count("as club-") == 2


def test_a_broker_restarted_and_a_process_killed_lose_and_double_nothing(club: Any, eventually: Any) -> None:
    ponds = club("alder", "birch", config_lines=["autosave_on_changes true"])
    ponds.start()
    eventually(lambda: "watching-many" in ponds.log, "all watched")
    eventually(lambda: ponds.broker.log.count("Sending SUBACK") >= 1)
    ponds.publish("alder", each=15)  # past half the window: committed, acknowledged
    ponds.publish("birch", each=4)
    eventually(lambda: (ponds.good("alder"), ponds.good("birch")) == (15, 4), "heard")
    ponds.broker.stop()
    ponds.broker.restart()
    ponds.publish("alder", "birch", each=3)
    eventually(lambda: (ponds.good("alder"), ponds.good("birch")) == (18, 7), "heard after the restart")
    ponds.kill()
    ponds.publish("alder", "birch", each=5)  # while nobody is there
    ponds.start()
    eventually(lambda: ponds.log.count("watching-many") == 2, "all watched again")
    ponds.publish("alder", "birch")
    eventually(lambda: ponds.by_name()["birch"]["probes"]["ph"]["value"] == ponds.sent["birch"][-1], "the last")
    eventually(lambda: ponds.by_name()["alder"]["probes"]["ph"]["value"] == ponds.sent["alder"][-1], "the last")
    assert ponds.stop() == 0
    assert ponds.stored("alder") == ponds.sent["alder"]
    assert ponds.stored("birch") == ponds.sent["birch"]


def test_a_pond_whose_store_cannot_be_opened_costs_the_others_nothing(club: Any, eventually: Any) -> None:
    ponds = club("alder", "birch")
    with Store.open(ponds.config / "birch.db", []):  # somebody else writes it
        ponds.start()
        eventually(lambda: "watching-many" in ponds.log, "the other one watched")
        eventually(lambda: ponds.broker.log.count("Sending SUBACK") >= 1)
        ponds.publish("birch", each=3)
        ponds.publish("alder", each=12)
        eventually(lambda: ponds.good("alder") == 12, "heard")
        found = ponds.command("status")
        assert found.returncode == 1
        bad, good = found.stdout.splitlines()
        assert bad.startswith("NOT WELL  birch: nobody watches it")
        assert good.startswith("well      alder: ")
    eventually(lambda: ponds.good("birch") == 3, "what waited at the broker is sent once more")
    assert ponds.stop() == 0
    assert ponds.stored("alder") == ponds.sent["alder"]
    assert ponds.stored("birch") == ponds.sent["birch"]
    assert '"pond": "birch"' in ponds.log


def test_bad_configurations_are_refused_together_before_anything_begins(club: Any) -> None:
    ponds = club("alder", "birch", "cedar")
    birch, cedar = ponds.config / "birch.toml", ponds.config / "cedar.toml"
    birch.write_text(birch.read_text().replace("7.95", "795"), encoding="utf-8")
    cedar.write_text(cedar.read_text().replace('name = "cedar"', 'name = "alder"'), encoding="utf-8")
    found = ponds.command("run")
    assert found.returncode == 2
    assert f"{birch}: pond.latitude" in found.stderr
    assert f'{cedar}: pond.name: found "alder", which {ponds.config / "alder.toml"} has too' in found.stderr
    assert "Traceback" not in found.stderr
    assert not list(ponds.config.glob("*.db"))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('path = "birch.db"', 'path = "alder.db"', "store.path: found"),
        ('client_id = "club"', 'client_id = "club"\nkeepalive = "30s"', "mqtt.client_id: found"),
        ('link = "mqtt"\ntopic = "birch/ph"', 'link = "serial"\nport = "/dev/ttyUSB0"', None),
    ],
)
def test_what_two_ponds_cannot_share_is_named_with_both_files(club: Any, old: str, new: str, says: str | None) -> None:
    ponds = club("alder", "birch")
    birch = ponds.config / "birch.toml"
    birch.write_text(birch.read_text().replace(old, new), encoding="utf-8")
    found = ponds.command("status")
    if says is None:
        assert found.returncode == 1, found.stderr
        return
    assert found.returncode == 2
    assert f"{birch}: {says}" in found.stderr
    assert str(ponds.config / "alder.toml") in found.stderr


def test_a_port_is_one_ponds(tmp_path: Path, club: Any) -> None:
    ponds = club("alder", "birch")
    for name in ponds.names:
        path = ponds.config / f"{name}.toml"
        text = path.read_text().replace(f'link = "mqtt"\ntopic = "{name}/ph"', 'link = "serial"\nport = "/dev/ttyUSB0"')
        path.write_text(text, encoding="utf-8")
    found = ponds.command("check")
    assert found.returncode == 2
    assert 'found "/dev/ttyUSB0", which' in found.stderr


def test_a_store_that_refuses_to_be_written_costs_the_others_nothing(club: Any, eventually: Any) -> None:
    ponds = club("alder", "birch")
    ponds.start()
    eventually(lambda: "watching-many" in ponds.log, "all watched")
    eventually(lambda: ponds.broker.log.count("Sending SUBACK") >= 1)
    other = sqlite3.connect(ponds.config / "birch.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")  # as a card that is full, or a hand that is in the file
    ponds.publish("birch", each=12)
    ponds.publish("alder", each=12)
    eventually(lambda: len(ponds.stored("alder")) >= 10, "the other one stored")
    ponds.publish("birch", each=3)
    ponds.publish("alder", each=12)
    eventually(lambda: len(ponds.stored("alder")) >= 20, "and again, while the first one waits")
    other.execute("ROLLBACK")
    other.close()
    eventually(lambda: len(ponds.stored("birch")) >= 10, "what waited is stored")
    eventually(lambda: ponds.by_name()["birch"]["probes"]["ph"]["value"] == ponds.sent["birch"][-1], "the last")
    assert ponds.stop() == 0
    assert ponds.stored("alder") == ponds.sent["alder"]
    assert ponds.stored("birch") == ponds.sent["birch"]
