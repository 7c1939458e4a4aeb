"""One page for many ponds: what the first page shows, and that each pond opens to its own people alone."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from dawnline.cli.page import doors
from dawnline.delivery.ack_link import Claim, sign
from dawnline.errors import SettingsError
from dawnline.page.app import Site
from dawnline.settings import Settings, load
from dawnline.settings_ponds import load_ponds, one_page
from dawnline.store.store import Store

from ..configuration import broker, mqtt, place
from .conftest import GUEST, HASHES, KEEPER, Service, token


def pond_of(name: str, person: str, page: str) -> str:
    """A pond with one of its people and what stands in its [page]."""
    people = f'[[people]]\nname = "{person}"\naddresses = ["console:"]\n'
    return place(name, f"{name}.db") + broker(1883) + mqtt("ph", "ph", f"{name}/ph") + people + f"[page]\n{page}\n"


# Birch and Cedar have one passphrase file, and in Cedar Birch's guests are keepers; Dogwood's is its own.
PAGES = {
    "Alder": ("Ada", ""),
    "Birch": ("Bo", 'passphrase = "file:keeper"\nguest_passphrase = "file:guest"'),
    "Cedar": ("Cy", 'passphrase = "file:guest"'),
    "Dogwood": ("Di", 'passphrase = "file:other"'),
}


@dataclass
class Present:
    """The present of a pond as a test wants it."""

    data: dict[str, Any]
    running: bool = True
    age_s: float | None = 1.0
    clock_set: bool = True


def present(ph: float, *alarms: dict[str, Any], **more: Any) -> Present:
    probe = {"quantity": "ph", "value": ph, "flag": "good", "age_s": 4.0, "time": "2026-06-03T04:05:06+02:00"}
    return Present({"alarms": list(alarms), "probes": {"ph": probe}, "tonight": []}, **more)


LOW = {
    "state": "unacknowledged",
    "priority": "high",
    "title": "pH low",
    "probe": "ph",
    "alarm": "ph-low",
    "text": "pH 5.91",
    "since": "2026-06-03T03:58:00+02:00",
}


@dataclass
class Ponds:
    """The page, and what its service was asked, by pond."""

    client: TestClient
    services: Mapping[str, Service]
    presents: dict[str, Present | None] = field(default_factory=dict)


@pytest.fixture
def ponds(tmp_path: Path) -> Iterator[Callable[..., Ponds]]:
    """`ponds(more)` is a browser at the page of four ponds; `more` is added to each [page]."""
    opened: list[TestClient] = []

    def made(more: str = "", pages: Mapping[str, tuple[str, str]] = PAGES) -> Ponds:
        for name, kept in {**HASHES, "other": HASHES["keeper"][:-4] + "AAA="}.items():
            (tmp_path / name).write_text(kept + "\n")
        services = {name: Service() for name in pages}
        presents: dict[str, Present | None] = dict.fromkeys(pages, present(7.21))
        every = []
        for name, (person, page) in pages.items():
            (tmp_path / f"{name}.toml").write_text(pond_of(name, person, f"{page}\n{more}"))
            settings: Settings = load(tmp_path / f"{name}.toml")
            Store.open(settings.store.path, [("ph", "ph")]).close()
            glance: Callable[[], Any] = lambda name=name: presents[name]  # noqa: E731
            every.append(replace(doors(settings), put=services[name].put, glance=glance))
        client = TestClient(
            Site(every).app(),
            base_url="http://127.0.0.1:8078",
            follow_redirects=False,
            raise_server_exceptions=False,
        )
        opened.append(client)
        return Ponds(client, services, presents)

    yield made
    for each in opened:
        each.close()


def sign_in(client: TestClient, pond: str, passphrase: str, name: str = "") -> Any:
    return client.post(f"/ponds/{pond}/sign-in", data={"passphrase": passphrase, "name": name})


def may_see(client: TestClient) -> set[str]:
    """The ponds whose own pages open."""
    return {name for name in PAGES if client.get(f"/ponds/{name.lower()}/logbook").status_code == 200}


def rows(text: str) -> list[tuple[str, str]]:
    """Name and kind of each pond on the first page, in its order."""
    return [(name, kind) for kind, name in re.findall(r'<li class="(\w+)"><h2><a href="[^"]*">([^<]*)</a>', text)]


def test_the_first_page_says_how_each_is_those_that_need_somebody_first(ponds: Callable[..., Ponds]) -> None:
    made = ponds(pages=dict.fromkeys(("Alder", "Birch", "Cedar", "Dogwood"), ("Ada", "")))
    medium = {**LOW, "priority": "medium", "title": "Night slide"}
    made.presents |= {"Birch": present(6.9, medium), "Cedar": None, "Dogwood": present(5.91, LOW)}
    text = made.client.get("/").text
    assert rows(text) == [("Dogwood", "act"), ("Cedar", "blind"), ("Birch", "look"), ("Alder", "well")]
    assert "<h1>3 of 4 need a look</h1>" in text
    assert "<strong>pH 5.91</strong>" in text
    assert "<p>pH low<small>since Wed 3 Jun, 03:58</small></p>" in text
    two = present(5.91, LOW)
    two.data["probes"]["deep"] = two.data["probes"]["ph"]
    made.presents["Dogwood"] = two
    assert "<p>pH low (ph)<small>" in made.client.get("/").text
    two.data["probes"]["deep"] = {**two.data["probes"]["ph"], "value": 7.4, "flag": "suspect", "doubt": "it rests"}
    assert "good, 4 s old; pH 7.40 (suspect, doubted)</small>" in made.client.get("/").text
    assert "Nobody watches" in text
    assert rows(made.client.get("/ponds-part").text) == rows(text)


def test_a_service_that_wrote_last_long_ago_is_said_with_since_when(ponds: Callable[..., Ponds]) -> None:
    made = ponds(pages=dict.fromkeys(("Alder", "Birch"), ("Ada", "")))
    made.presents["Birch"] = present(7.2, running=False, age_s=7200.0)
    assert re.search(r"Nobody watches<small>since \w+ \d+ \w+, \d\d:\d\d</small>", made.client.get("/").text)


def test_of_a_pond_behind_a_passphrase_only_its_name_is_seen(ponds: Callable[..., Ponds]) -> None:
    made = ponds()
    made.presents |= dict.fromkeys(("Birch", "Cedar", "Dogwood"), present(5.91, LOW))
    text = made.client.get("/").text
    assert rows(text) == [("Alder", "well"), ("Birch", "locked"), ("Cedar", "locked"), ("Dogwood", "locked")]
    assert "5.91" not in text
    assert "<h1>All is well at 1 of 4</h1>" in text
    for name in ("Bo", "Cy", "Di"):
        assert f">{name}<" not in text
    answer = made.client.get("/ponds/birch/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/ponds/birch/sign-in")
    assert may_see(made.client) == {"Alder"}


def test_each_passphrase_opens_the_ponds_that_have_it(ponds: Callable[..., Ponds]) -> None:
    made = ponds()
    assert sign_in(made.client, "dogwood", KEEPER).status_code == 403
    assert sign_in(made.client, "birch", KEEPER, "Bo").headers["location"] == "/ponds/birch/"
    assert may_see(made.client) == {"Alder", "Birch"}
    assert dict(rows(made.client.get("/").text))["Birch"] == "well"
    assert sign_in(made.client, "cedar", GUEST).status_code == 303  # beside the other, which is kept
    assert may_see(made.client) == {"Alder", "Birch", "Cedar"}


def test_one_passphrase_may_look_at_one_pond_and_act_at_another(ponds: Callable[..., Ponds]) -> None:
    made = ponds()
    sign_in(made.client, "birch", GUEST, "Bo")
    for pond, status, got in (("birch", 403, 0), ("cedar", 303, 1), ("alder", 303, 1)):
        form = made.client.get(f"/ponds/{pond}/logbook/add/note").text
        answer = made.client.post(f"/ponds/{pond}/logbook/add/note", data={"token": token(form), "note": "a heron"})
        assert (answer.status_code, len(made.services[pond.title()].got)) == (status, got)
    assert made.services["Cedar"].got == [("note", {"note": "a heron"}, "Bo (page)")]


def test_a_name_is_taken_from_that_ponds_people(ponds: Callable[..., Ponds]) -> None:
    made = ponds()
    sign_in(made.client, "birch", KEEPER, "Cy")
    form = made.client.get("/ponds/birch/logbook/add/note").text
    made.client.post("/ponds/birch/logbook/add/note", data={"token": token(form), "note": "x"})
    assert made.services["Birch"].got[-1][2] == "page"
    assert "<option>Bo</option>" in made.client.get("/ponds/birch/sign-in").text
    assert "<option>Cy</option>" not in made.client.get("/ponds/birch/sign-in").text


def test_whoever_signs_out_is_out_of_all(ponds: Callable[..., Ponds]) -> None:
    made = ponds()
    sign_in(made.client, "birch", KEEPER)
    sign_in(made.client, "cedar", GUEST)
    assert made.client.post("/sign-out", data={"token": "x"}).status_code == 403
    answer = made.client.post("/sign-out", data={"token": token(made.client.get("/").text)})
    assert answer.headers["location"] == "/"
    assert may_see(made.client) == {"Alder"}


CLOSE_UP = "/close-up?from=2026-06-03T00:00Z&to=2026-06-03T06:00Z"
OWN = (
    "/",
    "/days",
    "/alarms",
    "/logbook",
    "/logbook/add/note",
    "/probes",
    "/doses",
    "/doses/raise-kh",
    CLOSE_UP,
    "/no",
)


@pytest.mark.parametrize("path", OWN)
def test_every_link_of_a_ponds_pages_stays_with_it(ponds: Callable[..., Ponds], path: str) -> None:
    text = ponds().client.get(f"/ponds/alder{path}").text
    found = re.findall(r'(?:href|action|src|data-live|data-close-up)="(/[^"]*)"', text)
    shared = re.compile(r"/(style\.css|page\.js)\?|/sign-out$|/$")
    assert [each for each in found if not each.startswith("/ponds/alder/") and not shared.match(each)] == []
    assert len([each for each in found if each.startswith("/ponds/alder/")]) > 5


@pytest.mark.parametrize(
    "path", ["/ponds/nowhere/", "/ponds/nowhere/days", "/days", "/ponds/", "/ponds/alder/x", "/sign-in"]
)
def test_there_is_no_such_page(ponds: Callable[..., Ponds], path: str) -> None:
    answer = ponds().client.get(path)
    assert answer.status_code == 404
    assert "There is no such page" in answer.text


def test_a_link_in_a_message_answers_for_its_own_pond(
    ponds: Callable[..., Ponds], monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = {
        name: (person, f'{page}\nlink_key = "env:KEY_{name.upper()}"') for name, (person, page) in PAGES.items() if page
    }
    for name in pages:
        monkeypatch.setenv(f"KEY_{name.upper()}", name * 8)
    made = ponds('address = "https://ponds.example.org"', pages)
    until = round(time.time() * 1000) + 3_600_000
    right = sign(Claim("Cedar", (3,), "Cy", until), b"Cedar" * 8)
    assert made.client.post("/acknowledge", data={"t": right}).status_code == 200
    assert {name: service.got for name, service in made.services.items() if service.got} == {
        "Cedar": [("acknowledge", {"id": 3}, "Cy (link)")]
    }
    old = sign(Claim("Cedar", (3,), "Cy", 0), b"Cedar" * 8)
    assert "expired" in made.client.get(f"/acknowledge?t={old}").text
    forged = sign(Claim("Cedar", (3,), "Cy", until), b"Birch" * 8)
    assert made.client.post("/acknowledge", data={"t": forged}).status_code == 403
    monkeypatch.delenv("KEY_BIRCH")
    assert made.client.post("/acknowledge", data={"t": right}).status_code == 200


def test_all_must_agree_on_where_the_page_listens(tmp_path: Path) -> None:
    for name, page in (("Alder", ""), ("Birch", "port = 8079"), ("Cedar", 'listen = "127.0.0.2"')):
        (tmp_path / f"{name}.toml").write_text(pond_of(name, "Ada", page))
    every = load_ponds([tmp_path / f"{name}.toml" for name in ("Alder", "Birch", "Cedar")])
    one_page(every[:1])
    with pytest.raises(SettingsError) as caught:
        one_page(every)
    lines = str(caught.value).splitlines()
    assert lines[0].startswith(
        f"{tmp_path}/Birch.toml: page.port: found 8079, {tmp_path}/Alder.toml has 8078; expected"
    )
    assert lines[1].startswith(f'{tmp_path}/Cedar.toml: page.listen: found "127.0.0.2", ')
    assert len(lines) == 2
