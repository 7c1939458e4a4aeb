from __future__ import annotations

import asyncio
import email
import email.policy
import socket
import ssl
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from email.message import EmailMessage
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from dawnline.delivery import mail
from dawnline.delivery.channels import Channels
from dawnline.delivery.later import LaterError
from dawnline.delivery.mail import send_mail
from dawnline.delivery.report import Report
from dawnline.delivery.settings import MailSettings
from dawnline.errors import DeliveryError
from dawnline.letter import Letter, Marks

from ..machine import program

# aiosmtpd 1.4.6 warns of an insecure configuration where a test wants plain AUTH; asyncio may find a
# transport that we cut on purpose still open.
pytestmark = [
    pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS:UserWarning"),
    pytest.mark.filterwarnings("ignore:unclosed transport:ResourceWarning"),
]


@dataclass
class Post:
    """A mail server's handler: answers as told, keeps what it took."""

    taken: list[EmailMessage] = field(default_factory=list)
    rcpt: str = "250 OK"
    data: str = "250 OK"
    hang: bool = False
    cut: str = ""

    def _cut(self, server: Any, where: str) -> None:
        if self.cut == where:
            server.transport.abort()

    async def handle_RCPT(self, server: Any, _s: Any, envelope: Any, address: str, _o: Any) -> str:  # noqa: N802
        self._cut(server, "RCPT")
        if self.rcpt.startswith("2"):
            envelope.rcpt_tos.append(address)
        return self.rcpt

    async def handle_DATA(self, server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        self._cut(server, "DATA")
        if self.hang:
            await asyncio.sleep(60)
        if self.data.startswith("2"):
            self.taken.append(email.message_from_bytes(envelope.content, policy=email.policy.default))
        return self.data


Serve = Callable[..., MailSettings]


@pytest.fixture
def serve() -> Iterator[Serve]:
    """serve(handler, **options of the server) -> settings that reach it, without encryption."""
    running: list[Controller] = []

    def start(handler: Post, **options: Any) -> MailSettings:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        running.append(Controller(handler, hostname="127.0.0.1", port=port, ident="test", **options))
        running[-1].start()
        return MailSettings(host="127.0.0.1", port=port, security="none", sender="pond@example.org")

    yield start
    for controller in running:
        controller.stop()


def failure(letter: Letter, settings: MailSettings) -> DeliveryError:
    with pytest.raises(DeliveryError) as caught:
        send_mail(letter, "ada@example.org", settings)
    return caught.value


def test_a_letter_arrives(serve: Serve, letter: Letter) -> None:
    handler = Post()
    assert send_mail(letter, "ada@example.org", serve(handler)) == "mail: taken by the server (250 OK)"
    (got,) = handler.taken
    assert (got["From"], got["To"]) == ("pond@example.org", "ada@example.org")
    assert got["Subject"] == letter.subject
    assert got["Date"] == "Thu, 28 May 2026 20:26:40 +0000"
    assert got["Importance"] == "high"
    assert got["Auto-Submitted"] == "auto-generated"
    assert got.get_content().splitlines() == letter.text.splitlines()


def test_a_repeat_has_the_same_message_id_and_says_so(serve: Serve, letter: Letter) -> None:
    handler = Post()
    settings = serve(handler)
    channels = Channels(settings, Path(), StringIO(), marks=Marks("{line} (sent again)", "It may have arrived before."))
    for attempts in (0, 1):
        channels.send(replace(letter, address="mailto:ada@example.org", attempts=attempts))
    send_mail(replace(letter, key="another"), "ada@example.org", settings)
    first, again, other = handler.taken
    assert first["Message-ID"] == again["Message-ID"] != other["Message-ID"]
    assert again["Subject"] == f"{letter.subject} (sent again)"
    assert "may have arrived before" in again.get_content()


def test_a_report_is_attached_and_arrives_as_it_was(serve: Serve, letter: Letter) -> None:
    handler = Post()
    page = ("<!doctype html><p>18.0 \u00b0C; " + "x" * 3000 + "\r\n.\r\n</p>\n").encode()
    send_mail(letter, "ada@example.org", serve(handler), Report("- calm", "week-2026-06-07.html", page))
    (got,) = handler.taken
    text = got.get_body(("plain",))
    assert text is not None
    assert text.get_content().splitlines() == letter.text.splitlines()
    (attached,) = got.iter_attachments()
    assert attached.get_payload(decode=True) == page
    assert attached.get_content_charset() == "utf-8"
    assert attached.get_filename() == "week-2026-06-07.html"
    assert attached.get_content_disposition() == "attachment"


@pytest.mark.parametrize("code", [421, 450, 451, 452])
def test_4xx_at_the_recipient_is_tried_again(code: int, serve: Serve, letter: Letter) -> None:
    error = failure(letter, serve(Post(rcpt=f"{code} not now")))
    assert (type(error), error.retry, str(error)) == (DeliveryError, True, f"mail: {code} not now")
    assert error.letter_only is (code != 421)


@pytest.mark.parametrize("code", [550, 551, 552, 553])
def test_5xx_at_the_recipient_is_dead(code: int, serve: Serve, letter: Letter) -> None:
    error = failure(letter, serve(Post(rcpt=f"{code} nobody here")))
    assert (error.retry, str(error)) == (False, f"mail: {code} nobody here")


@pytest.mark.parametrize(("code", "retry"), [(451, True), (554, False)])
def test_a_refused_text(code: int, retry: bool, serve: Serve, letter: Letter) -> None:
    assert failure(letter, serve(Post(data=f"{code} no"))).retry is retry


@pytest.mark.parametrize("where", ["RCPT", "DATA"])
def test_a_connection_cut_half_way_is_tried_again(where: str, serve: Serve, letter: Letter) -> None:
    error = failure(letter, serve(Post(cut=where)))
    assert (type(error), error.retry) == (DeliveryError, True)


def test_a_server_that_hangs_is_tried_again(serve: Serve, letter: Letter, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mail, "STEP_S", 0.3)
    error = failure(letter, serve(Post(hang=True)))
    assert error.retry
    assert "no answer" in str(error)


def test_no_server_is_tried_again(serve: Serve, letter: Letter) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        nobody = MailSettings(host="127.0.0.1", port=free.getsockname()[1], security="none", sender="p@example.org")
    assert failure(letter, nobody).retry


@pytest.mark.parametrize(
    "subject", ["pH 6,4 – und fällt", "水の pH が下がる" * 10, "a" * 300, "x\r\nBcc: eve@example.org"]
)
def test_a_subject_arrives_as_it_was_written(subject: str, serve: Serve, letter: Letter) -> None:
    handler = Post()
    send_mail(replace(letter, subject=subject), "ada@example.org", serve(handler))
    assert handler.taken[0]["Subject"] == " ".join(subject.split())
    assert handler.taken[0]["Bcc"] is None


# ---------------------------------------------------------------- login and encryption


def login(_server: Any, _session: Any, _envelope: Any, _mechanism: str, data: Any) -> AuthResult:
    right = isinstance(data, LoginPassword) and data == LoginPassword(b"ada", b"right")
    return AuthResult(success=right, handled=right)  # where not handled, the server answers 535


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    program("openssl")
    folder = tmp_path_factory.mktemp("tls")
    key, cert = folder / "key.pem", folder / "cert.pem"
    names = "subjectAltName=DNS:localhost,IP:127.0.0.1"
    command = f"openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -addext {names}"
    subprocess.run(
        [*command.split(), "-subj", "/CN=localhost", "-keyout", key, "-out", cert],
        check=True,
        capture_output=True,
    )
    return key, cert


@pytest.fixture
def tls(certificate: tuple[Path, Path]) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate[1], certificate[0])
    return context


@pytest.fixture
def trusted(certificate: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate[1]))


def with_login(settings: MailSettings, security: str) -> MailSettings:
    whole = {
        **settings.model_dump(),
        "security": security,
        "username": "ada",
        "password": "env:DAWNLINE_TEST_PW",
    }
    return MailSettings.model_validate(whole)


@pytest.fixture
def right(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLINE_TEST_PW", "right")


@pytest.mark.usefixtures("trusted", "right")
def test_starttls_and_login(serve: Serve, tls: ssl.SSLContext, letter: Letter) -> None:
    handler = Post()
    plain = serve(handler, tls_context=tls, require_starttls=True, authenticator=login, auth_required=True)
    send_mail(letter, "ada@example.org", with_login(plain, "starttls"))
    assert len(handler.taken) == 1


@pytest.mark.usefixtures("trusted", "right")
def test_tls_from_the_first_byte(serve: Serve, tls: ssl.SSLContext, letter: Letter) -> None:
    handler = Post()
    plain = serve(handler, ssl_context=tls, authenticator=login, auth_required=True, auth_require_tls=False)
    send_mail(letter, "ada@example.org", with_login(plain, "tls"))
    assert len(handler.taken) == 1


@pytest.mark.usefixtures("trusted")
def test_a_wrong_password_is_tried_again_slowly(
    serve: Serve, tls: ssl.SSLContext, letter: Letter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DAWNLINE_TEST_PW", "wrong")
    handler = Post()
    plain = serve(handler, tls_context=tls, require_starttls=True, authenticator=login, auth_required=True)
    error = failure(letter, with_login(plain, "starttls"))
    assert isinstance(error, LaterError)
    assert str(error).startswith("mail: 535 ")
    assert "wrong" not in str(error)
    assert not handler.taken


def test_a_login_that_is_missing_is_tried_again_slowly(serve: Serve, letter: Letter) -> None:
    plain = serve(Post(), authenticator=login, auth_required=True, auth_require_tls=False)
    error = failure(letter, plain)
    assert isinstance(error, LaterError)
    assert str(error).startswith("mail: 530 ")


@pytest.mark.usefixtures("right")
@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_nobody_vouches_for_is_tried_again_slowly(
    security: str, serve: Serve, tls: ssl.SSLContext, letter: Letter
) -> None:
    handler = Post()
    plain = serve(handler, **({"tls_context": tls} if security == "starttls" else {"ssl_context": tls}))
    error = failure(letter, with_login(plain, security))
    assert isinstance(error, LaterError)
    assert "certificate" in str(error)
    assert not handler.taken


@pytest.mark.usefixtures("right")
def test_no_starttls_means_no_mail_in_clear(serve: Serve, letter: Letter) -> None:
    handler = Post()
    error = failure(letter, with_login(serve(handler), "starttls"))
    assert isinstance(error, LaterError)
    assert "STARTTLS" in str(error)
    assert not handler.taken


@pytest.mark.usefixtures("right")
def test_tls_at_a_plain_server_is_tried_again_slowly(serve: Serve, letter: Letter) -> None:
    error = failure(letter, with_login(serve(Post()), "tls"))
    assert isinstance(error, LaterError)
    assert "`security`" in str(error)
