"""The copying thread against a server that answers as a script tells it to."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from dawnline.delivery.forward import forwarder as module
from dawnline.delivery.forward.answer import AnswerError, Kind, refusal
from dawnline.delivery.forward.forwarder import Forwarder
from dawnline.delivery.forward.place import Place, Progress, Row
from dawnline.errors import SettingsError, StoreError

Eventually = Callable[..., None]


class Rows:
    """A store that grows."""

    def __init__(self, number: int) -> None:
        self.rows = [self.row(at) for at in range(1, number + 1)]
        self.asked: list[int] = []

    @staticmethod
    def row(at: int) -> Row:
        return Row(Place(at, "ph", at, 0), "ph", 7.0 + at / 1000, 1)

    def add(self, number: int) -> None:
        self.rows += [self.row(len(self.rows) + n) for n in range(1, number + 1)]

    def arrived(self, after: Place, limit: int) -> list[Row]:
        self.asked.append(limit)
        return [row for row in self.rows if row.place > after][:limit]


class Server:
    """Takes what `judge` lets pass."""

    def __init__(self) -> None:
        self.got: list[int] = []
        self.requests: list[int] = []
        self.judge: Callable[[Sequence[Row]], bool] = lambda rows: False
        self.lock = threading.Lock()

    def write(self, rows: Sequence[Row]) -> bool:
        with self.lock:
            self.requests.append(len(rows))
            again = self.judge(rows)
            self.got += [row.place.at for row in rows]
            return again

    def close(self) -> None:
        pass


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "LOOK_S", 0.01)
    monkeypatch.setattr(module, "SAVE_S", 0.0)
    monkeypatch.setattr(module, "KEEPER_S", 0.02)
    monkeypatch.setattr(module, "backoff", lambda failures, asked=None: 0.01)


@pytest.fixture
def server() -> Server:
    return Server()


@pytest.fixture
def begin(tmp_path: Path, server: Server) -> Iterator[Callable[..., Forwarder]]:
    started: list[Forwarder] = []

    def start(rows: Rows, progress: Progress | None = None, **doors: Callable[[], object]) -> Forwarder:
        opened = doors.get("source", lambda: rows), doors.get("server", lambda: server)
        forwarder = Forwarder(*opened, progress or Progress(tmp_path / "forwarded.json"))  # type: ignore[arg-type]
        started.append(forwarder)
        forwarder.start()
        return forwarder

    yield start
    for each in started:
        assert each.stop()


def test_everything_in_order_then_what_comes(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    rows = Rows(2500)
    forwarder = begin(rows)
    eventually(lambda: server.got == list(range(1, 2501)))
    rows.add(3)
    eventually(lambda: server.got == list(range(1, 2504)))
    assert max(server.requests) <= module.ROWS
    assert forwarder.as_json() == {
        "up_to": 2503,
        "sent": 2503,
        "refused": 0,
        "last_refused": None,
        "trouble": "",
    }


def test_a_bad_row_is_set_aside_and_the_rest_goes_on(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    def judge(rows: Sequence[Row]) -> bool:
        if any(row.place.at in (77, 900) for row in rows):
            raise refusal(400, "partial write: field type conflict")
        return False

    server.judge = judge
    forwarder = begin(Rows(1200))
    eventually(lambda: forwarder.as_json()["up_to"] == 1200)
    assert sorted(set(server.got)) == [at for at in range(1, 1201) if at not in (77, 900)]
    assert forwarder.as_json()["refused"] == 2
    assert forwarder.as_json()["last_refused"]["why"] == "400 partial write: field type conflict"


def test_where_everything_is_refused_nothing_is_set_aside(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    refuse = True

    def judge(rows: Sequence[Row]) -> bool:
        if refuse:
            raise refusal(400, "no such field")
        return False

    server.judge = judge
    forwarder = begin(Rows(20))
    eventually(lambda: forwarder.as_json()["trouble"] == "400 no such field")
    eventually(lambda: len(server.requests) > 100)
    assert forwarder.as_json()["refused"] == 0
    refuse = False
    eventually(lambda: server.got == list(range(1, 21)))
    eventually(lambda: forwarder.as_json()["trouble"] == "")


@pytest.mark.parametrize("status", [401, 403, 404, 408, 429, 500, 503, 302])
def test_other_refusals_lose_nothing(begin, server: Server, eventually: Eventually, status: int) -> None:  # type: ignore[no-untyped-def]
    left = 3

    def judge(rows: Sequence[Row]) -> bool:
        nonlocal left
        left -= 1
        if left >= 0:
            raise refusal(status, "not now")
        return False

    server.judge = judge
    forwarder = begin(Rows(50))
    eventually(lambda: server.got == list(range(1, 51)))
    eventually(lambda: forwarder.as_json()["trouble"] == "")
    assert forwarder.as_json()["refused"] == 0


def test_too_large_is_halved_and_grows_again(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    def judge(rows: Sequence[Row]) -> bool:
        if len(rows) > 100:
            raise refusal(413, "too large")
        return False

    server.judge = judge
    begin(Rows(1000))
    eventually(lambda: server.got == list(range(1, 1001)))
    assert min(server.requests) >= 31


def test_a_broken_connection_goes_back(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    rows = Rows(100)
    forwarder = begin(rows)
    eventually(lambda: len(server.got) == 100)
    failures = [AnswerError(Kind.LATER, "no answer", broken=True)]

    def judge(_: Sequence[Row]) -> bool:
        if failures:
            raise failures.pop()
        return False

    server.judge = judge
    rows.add(1)
    eventually(lambda: server.got[100:] == list(range(1, 102)))
    assert forwarder.as_json()["up_to"] == 101


def test_a_connection_made_anew_goes_back_too(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    rows, answers = Rows(10), [False, True]
    server.judge = lambda _: answers.pop(0) if answers else False
    begin(rows)
    eventually(lambda: len(server.got) == 10)
    rows.add(1)
    eventually(lambda: server.got[10:] == [11, *range(1, 12)])


def test_a_server_that_closes_every_connection_is_no_treadmill(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    server.judge = lambda _: True
    rows = Rows(3000)
    forwarder = begin(rows)
    eventually(lambda: forwarder.as_json()["up_to"] == 3000)


def test_a_token_or_a_store_that_is_not_to_be_had(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    troubles = [StoreError("store pond.db: it is damaged"), SettingsError("secret env:T: not set")]
    rows = Rows(5)

    def source() -> Rows:
        if troubles and isinstance(troubles[0], StoreError):
            raise troubles.pop(0)
        return rows

    def door() -> Server:
        if troubles:
            raise troubles.pop(0)
        return server

    begin(rows, source=source, server=door)
    eventually(lambda: server.got == [1, 2, 3, 4, 5])


def test_goes_on_where_it_was_safe(begin, server: Server, eventually: Eventually, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    begin(Rows(5), Progress(tmp_path / "other.json", Rows.row(3).place))
    eventually(lambda: server.got == [4, 5])


def test_a_crash_within_does_not_end_it(begin, server: Server, eventually: Eventually) -> None:  # type: ignore[no-untyped-def]
    surprises = [RuntimeError("what is this")]

    def judge(_: Sequence[Row]) -> bool:
        if surprises:
            raise surprises.pop()
        return False

    server.judge = judge
    begin(Rows(5))
    eventually(lambda: server.got == [1, 2, 3, 4, 5])
