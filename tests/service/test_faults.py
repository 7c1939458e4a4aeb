"""Faults against real servers: delivered is exactly what is due, in order, soon after the way is free again."""

from __future__ import annotations

import asyncio
import email
import email.policy
import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
import structlog
from aiosmtpd.controller import Controller

from dawnline.delivery import mail
from dawnline.delivery.settings import MailSettings
from dawnline.people.person import Person

from ..machine import free_port
from ..web import Handler, serving
from .chain import Chain, PowerCutError

pytestmark = pytest.mark.filterwarnings("ignore:unclosed transport:ResourceWarning")

LOW, HIGH_PH, CRASH = ("ph-low", "ph"), ("ph-high", "ph"), ("ph-crash", "ph")


# ---------------------------------------------------------------- servers


@dataclass
class MailServer:
    """A mail server that can refuse, greylist, hang, cut, and be away. `reply` is asked for each recipient."""

    port: int = field(default_factory=free_port)
    taken: list[EmailMessage] = field(default_factory=list)
    reply: Callable[[], str] = lambda: "250 OK"
    hangs: bool = False
    cuts: bool = False
    controller: Controller | None = None

    async def handle_RCPT(self, _server: Any, _s: Any, envelope: Any, address: str, _o: Any) -> str:  # noqa: N802
        said = self.reply()
        if said.startswith("2"):
            envelope.rcpt_tos.append(address)
        return said

    async def handle_DATA(self, server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        if self.cuts:
            server.transport.abort()
            return "451 gone"
        if self.hangs:
            await asyncio.sleep(60)
        self.taken.append(email.message_from_bytes(envelope.content, policy=email.policy.default))
        return "250 OK"

    def up(self) -> None:
        self.controller = Controller(self, hostname="127.0.0.1", port=self.port, ident="test")
        self.controller.start()

    def down(self) -> None:
        if self.controller is not None:
            self.controller.stop()
            self.controller = None

    @property
    def subjects(self) -> list[str]:
        return [str(post["Subject"]) for post in self.taken]


@pytest.fixture
def server() -> Iterator[MailServer]:
    made = MailServer()
    made.up()
    yield made
    made.down()


@pytest.fixture
def chain(tmp_path: Path, server: MailServer) -> Iterator[Callable[..., Chain]]:
    """chain(person, ..., begins="14:00") -> a chain whose mail goes to `server`."""
    made: list[Chain] = []
    post = MailSettings(host="127.0.0.1", port=server.port, security="none", sender="pond@example.org")

    def make(*people: Person, begins: str = "14:00") -> Chain:
        made.append(Chain(tmp_path, list(people) or [ADA], begins, post))
        return made[-1]

    yield make
    for each in made:
        each.close()


ADA = Person("Ada", ("mailto:ada@example.org",), quiet=None)


@dataclass
class Hook:
    """A web hook that answers `status` or hangs until `release` is set."""

    url: str = ""
    status: Callable[[], int] = lambda: 200
    got: list[dict[str, Any]] = field(default_factory=list)
    hangs: bool = False
    release: threading.Event = field(default_factory=threading.Event)


@pytest.fixture
def hook() -> Iterator[Hook]:
    state = Hook()

    class Receiver(Handler):
        def asked(self) -> None:
            body = json.loads(self.body())
            if state.hangs:
                state.release.wait(20)
                return
            status = state.status()
            if status == 200:
                state.got.append(body)
            self.answer(status)

    with serving(Receiver) as url:
        state.url = f"{url}/"
        yield state
        state.release.set()


def minutes(clock: str) -> int:
    day, hour = clock.split(" ")
    return int(day) * 1440 + int(hour[:2]) * 60 + int(hour[3:])


# ---------------------------------------------------------------- mail


def test_all_well(chain: Callable[..., Chain], server: MailServer) -> None:
    home = chain()
    home.on[LOW] = "high"
    home.run("14:30")
    home.on.clear()
    home.run("16:00")
    due = [message.subject for message in home.messages]
    assert server.subjects == due
    assert [message.why for message in home.messages] == ["raised", "repeat", "repeat", "over"]
    first, *rest = server.taken
    assert first["References"] is None
    assert {post["References"] for post in rest} == {post["In-Reply-To"] for post in rest} == {first["Message-ID"]}
    assert len({post["Message-ID"] for post in server.taken}) == len(server.taken)


def test_greylisted_it_arrives_once_the_server_is_content(chain: Callable[..., Chain], server: MailServer) -> None:
    home = chain()
    home.on[HIGH_PH] = "low"  # raised at 16:01
    server.reply = lambda: "250 OK" if home.clock() >= "10 16:20" else "451 greylisted, try again later"
    home.run("16:50")
    assert server.subjects == ["Heron Lane: pH is high (low priority) (sent again)"]
    arrived = next(clock for clock, _ in home.attempts if clock >= "10 16:20")
    assert minutes(arrived) - minutes("10 16:20") <= 15
    assert home.left() == []


def test_a_refusal_for_good_is_given_up_and_told_on_another_route(
    chain: Callable[..., Chain], server: MailServer, hook: Hook
) -> None:
    home = chain(Person("Ada", ("mailto:ada@example.org", hook.url), quiet=None))
    server.reply = lambda: "550 no such mailbox"
    home.on[HIGH_PH] = "low"
    home.run("16:10")
    assert [body["subject"] for body in hook.got] == [
        "Heron Lane: pH is high (low priority)",
        "Heron Lane: Notices do not arrive (medium priority)",
    ]
    assert "550 no such mailbox" in hook.got[1]["text"]
    assert [each.why for each in home.store.given_up(0, 5)] == ["mail: 550 no such mailbox"]
    assert server.taken == []


@pytest.mark.parametrize("fault", ["hangs", "cuts", "away"])
def test_a_mail_server_out_of_order_for_half_an_hour(
    fault: str, chain: Callable[..., Chain], server: MailServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = chain()
    with monkeypatch.context() as patch:
        patch.setattr(mail, "STEP_S", 0.3)
        server.down() if fault == "away" else setattr(server, fault, True)
        home.on[LOW] = "high"
        home.run("14:45")
    server.up() if fault == "away" else setattr(server, fault, False)
    home.on.clear()
    repaired = minutes(home.clock())
    home.run("16:00")
    arrived = [clock for clock, _ in home.attempts if minutes(clock) >= repaired]
    assert minutes(arrived[0]) - repaired <= 6  # five minutes and the jitter, where something urgent waits
    # What was due meanwhile is one message, the newest, which says all of it; then the all-clear.
    assert [subject.removesuffix(" (sent again)") for subject in server.subjects] == [
        "Heron Lane: pH is low (high priority), reminder 2",
        "Heron Lane: over: pH is low",
    ]
    assert home.left() == []


# ---------------------------------------------------------------- web hook


def test_a_hook_that_answers_500_for_an_hour(chain: Callable[..., Chain], hook: Hook) -> None:
    home = chain(Person("Ada", (hook.url,), quiet=None))
    hook.status = lambda: 200 if home.clock() >= "10 15:11" else 500
    home.on[LOW] = "high"
    home.run("15:20")
    assert [body["subject"] for body in hook.got] == ["Heron Lane: pH is low (high priority), reminder 2 (sent again)"]
    arrived = next(clock for clock, _ in home.attempts if clock >= "10 15:11")
    assert minutes(arrived) - minutes("10 15:11") <= 6
    assert hook.got[0]["repeat"]
    assert home.left() == []


@pytest.mark.parametrize("status", [200, 404, 500])
def test_no_token_of_an_address_is_logged_or_shown(
    status: int, chain: Callable[..., Chain], hook: Hook, capfd: pytest.CaptureFixture[str]
) -> None:
    structlog.reset_defaults()  # whatever a test before this one has settled
    home = chain(Person("Ada", (f"{hook.url}secret-token?key=secret", "http://127.0.0.1:1/secret-token"), quiet=None))
    hook.status = lambda: status
    home.on[LOW] = "high"
    home.run("14:30")
    logged = "".join(capfd.readouterr())
    assert "no answer" in logged
    assert "secret" not in logged + json.dumps(home.post.as_json())


def test_a_hook_that_never_answers_holds_up_nobody_else(
    chain: Callable[..., Chain], server: MailServer, hook: Hook
) -> None:
    home = chain(Person("Ada", (hook.url,), quiet=None), Person("Bo", ("mailto:bo@example.org",), quiet=None))
    home.worker._whole_s = 0.3
    hook.hangs = True
    home.on[LOW] = "high"
    home.run("14:13")
    assert [str(post["To"]) for post in server.taken][:1] == ["bo@example.org"]
    assert hook.got == []


# ---------------------------------------------------------------- the network gone for a night


def test_the_network_gone_for_a_night(chain: Callable[..., Chain], server: MailServer) -> None:
    home = chain(begins="22:00")
    server.down()
    home.on |= {HIGH_PH: "low"}
    home.run("01:00", day=1)
    home.on[LOW] = "high"
    home.run("03:00", day=1)
    home.on[CRASH] = "high"
    home.run("04:30", day=1)
    home.on.pop(CRASH)
    home.run("07:00", day=1)
    server.up()
    home.run("07:20", day=1)
    # One message for each incident, the urgent first; each says the whole course.
    assert [subject.removesuffix(" (sent again)") for subject in server.subjects] == [
        "Heron Lane: pH is low (high priority), reminder 4",
        "Heron Lane: pH is high (low priority)",
    ]
    text = server.taken[0].get_content()
    for line in ("pH is low (ph): raised", "pH crash (ph): raised", "pH crash (ph): over"):
        assert line in text
    arrived = next(clock for clock, _ in home.attempts if clock >= "11 07:00")
    assert minutes(arrived) - minutes("11 07:00") <= 6
    assert home.left() == []
    assert not any("Notices do not arrive" in subject for subject in server.subjects)


# ---------------------------------------------------------------- killed


def test_killed_between_commit_and_send(chain: Callable[..., Chain], server: MailServer) -> None:
    home = chain()
    home.on[LOW] = "high"

    def cut(_: object) -> None:
        raise PowerCutError

    home.before_send = cut
    with pytest.raises(PowerCutError):
        home.run("14:13")
    assert server.taken == []
    home.cut()
    home.deliver()
    # It may have been on its way: at least once, and it says so.
    assert server.subjects == ["Heron Lane: pH is low (high priority) (sent again)"]
    assert home.left() == []


def test_killed_between_send_and_record(chain: Callable[..., Chain], server: MailServer) -> None:
    home = chain()
    home.on[LOW] = "high"

    def cut(_: object) -> None:
        raise PowerCutError

    home.before_record = cut
    with pytest.raises(PowerCutError):
        home.run("14:13")
    assert server.subjects == ["Heron Lane: pH is low (high priority)"]
    home.cut()
    home.deliver()
    first, second = server.taken
    assert second["Subject"] == f"{first['Subject']} (sent again)"
    assert second["Message-ID"] == first["Message-ID"]
    assert "may have arrived before" in second.get_content()
    home.deliver()
    assert (len(server.taken), home.left()) == (2, [])
