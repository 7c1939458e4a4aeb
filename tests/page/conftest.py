"""A pond's page without a browser: a store with some days, a service that answers as a test tells it to."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from dawnline.cli.page import doors
from dawnline.page.app import Site
from dawnline.page.passphrase import hashed
from dawnline.settings import Settings, load
from dawnline.store.store import Store

from ..configuration import person, place, serial

POND = (
    place("Heron Lane", "pond.db", "volume_litres = 14000")
    + serial("ph", "ph", "/dev/ttyUSB0")
    + person("Ada", "console:")
)


KEEPER, GUEST = "four words are easy", "just look around"
OPENED = '[page]\nlisten = "0.0.0.0"\npassphrase = "file:keeper"\nguest_passphrase = "file:guest"\n'
HASHES = {"keeper": hashed(KEEPER), "guest": hashed(GUEST)}


def token(text: str) -> str:
    found = re.search(r'name="token" value="([^"]+)"', text)
    assert found is not None
    return found[1]


def sign_in(client: TestClient, passphrase: str, name: str = "") -> Any:
    return client.post("/sign-in", data={"passphrase": passphrase, "name": name})


@dataclass
class Service:
    """Takes acts, and answers with `verdict`."""

    verdict: tuple[bool, str] | None = (True, "noted")
    got: list[tuple[str, dict[str, Any], str]] = field(default_factory=list)

    def put(self, kind: str, body: Mapping[str, Any], actor: str) -> tuple[bool, str] | None:
        self.got.append((kind, dict(body), actor))
        return self.verdict


@pytest.fixture
def service() -> Service:
    return Service()


@pytest.fixture
def settings(tmp_path: Path) -> Callable[..., Settings]:
    """`settings(page)` reads the pond's configuration with this text as [page], beside an empty store."""

    def read(page: str = "") -> Settings:
        for name, kept in HASHES.items():
            (tmp_path / name).write_text(kept + "\n")
        (tmp_path / "dawnline.toml").write_text(POND + page)
        found = load(tmp_path / "dawnline.toml")
        Store.open(found.store.path, [("ph", "ph")]).close()
        return found

    return read


@pytest.fixture
def browser(settings: Callable[..., Settings], service: Service) -> Iterator[Callable[..., TestClient]]:
    """`browser(page)` is a browser at this pond's page; it follows no redirection."""
    opened: list[TestClient] = []

    def open_one(page: str = "", **changes: Any) -> TestClient:
        site = Site([replace(doors(settings(page)), **{"put": service.put, **changes})])
        client = TestClient(
            site.app(), base_url="http://127.0.0.1:8078", follow_redirects=False, raise_server_exceptions=False
        )
        opened.append(client)
        return client

    yield open_one
    for each in opened:
        each.close()
