"""No secret is where somebody else could read it: not in logs, the store, the present, pages, process lists or cores.

Real processes, each secret used with success, refused by its server, and with TLS that cannot be trusted; and servers
that say in their answers all they were told.
"""

from __future__ import annotations

import base64
import json
import resource
import signal
import ssl
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from dawnline.page.passphrase import hashed

from ..configuration import POND, mqtt, person, serial
from ..household import Household
from ..machine import free_port, until

pytestmark = pytest.mark.filterwarnings("ignore:unclosed transport:ResourceWarning")

eventually = partial(until, every_s=0.1)
SECRETS = {
    "mail": "mail-Zq8sVw31xx",
    "hook": "hook-Kd93mfQp77",
    "login": "login-Yt55rMna02",
    "mqtt": "mqtt-Lw02bXce88",
    "influx": "influx-Rr61gHuv19",
    "alive": "alive-Pn47jTdk30",
    "passphrase": "page Fg28 hCzi 64",
    "guest": "guest Mv90 eWod 13",
    "key": "key-Bs16uAxl55-long-enough",
}
CONFIGURATION = (
    POND
    + """
[mqtt]
host = "localhost"
port = {mqtt}
tls = {tls}
username = "pond"
password = "file:mqtt"
"""
    + serial("ph", "ph", "PORT")
    + mqtt("water", "temperature", "pond/water")
    + person("Ada", "mailto:ada@example.org", 'quiet = "none"')
    + person("Bo", "file:hook", 'quiet = "none"')
    + person("Cy", "env:CY", 'quiet = "none"')
    + """
[mail]
host = "localhost"
port = {mail}
security = "{security}"
username = "pond"
password = "env:MAIL_PASSWORD"
sender = "pond@example.org"
[heartbeat]
url = "file:alive"
every = "10s"
[influxdb]
url = "{web}"
bucket = "ponds"
token = "file:influx"
[page]
port = {page}
address = "http://127.0.0.1:{page}"
passphrase = "file:passphrase"
guest_passphrase = "file:guest"
link_key = "file:key"
[alarms.ph-crash]
on_delay = "1m"
"""
)


class Web:
    """Takes everything, or refuses it and repeats in its answer all it was told, as many servers do."""

    def __init__(self, *, welcome: bool, tls: Path | None = None) -> None:
        self.asked: list[str] = []
        web = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                web.asked.append(self.path)
                said = f"cannot {self.command} {self.path} with {dict(self.headers)}".encode() + body[:50]
                self.send_response(204 if welcome else 401, None if welcome else f"no {self.path}")
                self.send_header("Content-Length", str(0 if welcome else len(said)))
                self.end_headers()
                if not welcome:
                    self.wfile.write(said)

            do_GET = do_HEAD = do_POST  # noqa: N815

            def log_message(self, *_: object) -> None:
                pass

        class Server(ThreadingHTTPServer):
            def handle_error(self, *_: object) -> None:
                pass

        self.server = Server(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        if tls is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(tls / "server.crt", tls / "server.key")
            self.server.socket = context.wrap_socket(self.server.socket, server_side=True)
        threading.Thread(target=self.server.serve_forever, args=(0.05,), daemon=True).start()

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()


class Post:
    """A mail server that wants a login, and says more than it should where it refuses one."""

    def __init__(self, port: int, *, welcome: bool) -> None:
        self.taken = 0
        self.tried: list[bytes] = []

        def login(_s: Any, _session: Any, _envelope: Any, _mechanism: str, data: LoginPassword) -> AuthResult:
            self.tried.append(data.password)
            refused = None if welcome else f"535 not {data.login.decode()} with {data.password.decode()}"
            return AuthResult(success=welcome, handled=welcome or False, message=refused)

        self.controller = Controller(
            self, hostname="127.0.0.1", port=port, authenticator=login, auth_require_tls=False, ident="test"
        )
        self.controller.start()

    async def handle_DATA(self, _server: Any, _session: Any, _envelope: Any) -> str:  # noqa: N802
        self.taken += 1
        return "250 OK"


class Pond(Household):
    """The service and its page, with their secrets in files and in the environment."""

    def __init__(self, folder: Path, places: dict[str, Any], web: Web, scheme: str = "http") -> None:
        kept, self.places = folder / "kept", places  # what is written lies apart from the secrets
        kept.mkdir()
        base = f"{scheme}://127.0.0.1:{web.port}"
        (folder / "mqtt").write_text(SECRETS["mqtt"] + "\n")
        (folder / "hook").write_text(f"{base}/hooks/{SECRETS['hook']}?channel={SECRETS['hook']}\n")
        (folder / "alive").write_text(f"{base}/{SECRETS['alive']}\n")
        (folder / "influx").write_text(SECRETS["influx"] + "\n")
        (folder / "key").write_text(SECRETS["key"] + "\n")
        for name in ("passphrase", "guest"):
            (folder / name).write_text(hashed(SECRETS[name]) + "\n")
        text = CONFIGURATION.format(**places, web=base).replace('"pond.db"', f'"{kept / "pond.db"}"')
        super().__init__(folder, text, kept)
        self.plug()
        secret = base.replace("//", f"//bo:{SECRETS['login']}@") + "/cy"
        self.environment |= {"CY": secret, "MAIL_PASSWORD": SECRETS["mail"]}
        self.environment |= {"DAWNLINE_CLOCK_RATE": "60", "DAWNLINE_LOG": "debug"}

    def speak(self, until: Callable[[], object], what: str) -> None:
        """The probe says that the pond is lost, until something has come of it."""

        def said() -> object:
            self.say(b"5.80\n")
            return until()

        eventually(said, what)

    def ask(self, *words: str) -> None:
        """A command, whose words are kept with the rest."""
        done = self.command(*words)
        (self.kept / f"said-{len(list(self.kept.iterdir()))}").write_text(done.stdout + done.stderr, encoding="utf-8")

    def browse(self) -> None:
        """Sign in, wrongly and well, and keep every page."""
        base, opener = f"http://127.0.0.1:{self.places['page']}", urllib.request.build_opener()
        eventually(lambda: _opens(base))
        for passphrase in ("wrong " + SECRETS["guest"], SECRETS["guest"], SECRETS["passphrase"]):
            jar = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
            with suppress(OSError):
                jar.open(f"{base}/sign-in", urlencode({"passphrase": passphrase}).encode(), timeout=20).read()
            opener = jar
        for path in ("/", "/days", "/alarms", "/logbook", "/probes", "/doses", "/acknowledge?t=x", "/none"):
            try:
                said = opener.open(base + path, timeout=20).read()
            except urllib.error.HTTPError as error:
                said = error.read()
            (self.kept / f"page{quote(path, safe='')}").write_bytes(said)

    def processes(self) -> None:
        """What `ps` shows of the two, and all that their children were given."""
        rows = []
        for each in self.running.values():
            rows.append(Path(f"/proc/{each.pid}/cmdline").read_bytes())
            for task in Path(f"/proc/{each.pid}/task").iterdir():
                rows.append((task / "comm").read_bytes())
                for child in (task / "children").read_text().split():
                    rows += [Path(f"/proc/{child}/{name}").read_bytes() for name in ("cmdline", "environ")]
        (self.kept / "ps").write_bytes(b"\n".join(rows))

    def leaks(self) -> list[str]:
        """Every secret that stands in a file of what was kept, as it is or in another spelling."""
        found = []
        for file in self.kept.rglob("*"):
            said = file.read_bytes() if file.is_file() else b""
            for name, secret in SECRETS.items():
                pairs = [secret, *(f"{user}:{secret}" for user in ("pond", "bo")), f"\0pond\0{secret}"]
                coded = [base64.b64encode(pair.encode())[:-4] for pair in pairs]
                for spelt in (secret.encode(), quote(secret).encode(), *coded):
                    if spelt in said:
                        at = said.index(spelt)
                        found.append(f"{name} in {file.name}: {said[max(0, at - 150) : at + 60]!r}")
        return found


def _opens(base: str) -> bool:
    with suppress(OSError):
        return bool(urllib.request.urlopen(f"{base}/sign-in", timeout=5).read())
    return False


@pytest.fixture
def closing() -> Iterator[list[Callable[[], object]]]:
    todo: list[Callable[[], object]] = []
    yield todo
    for each in reversed(todo):
        each()


def look(pond: Pond) -> None:
    """All that anybody could look at."""
    for words in (("status",), ("status", "--json"), ("check",), ("check", "--notify"), ("alarms", "list")):
        pond.ask(*words)
    pond.ask("store", "backup", str(pond.kept / "backup.db"))
    pond.browse()
    pond.processes()
    for each in ("pond.db-wal", "pond.db"):
        (pond.kept / f"copy-of-{each}").write_bytes((pond.kept / each).read_bytes())


@pytest.mark.slow
def test_secrets_that_are_taken_stay_secret(
    tmp_path: Path, mosquitto: Callable[..., Any], closing: list[Callable[[], object]]
) -> None:
    broker, web, mail = mosquitto(password=("pond", SECRETS["mqtt"])), Web(welcome=True), free_port()
    post = Post(mail, welcome=True)
    closing += [web.close, post.controller.stop]
    places = {"mqtt": broker.port, "tls": "false", "mail": mail, "security": "none", "page": free_port()}
    pond = Pond(tmp_path, places, web)
    pond.start("run")
    closing.append(pond.end)
    eventually(lambda: pond.log.count('"connected"') >= 2, "broker and port")
    pond.speak(lambda: post.taken and any("/hooks/" in path for path in web.asked), "a letter each")
    pond.speak(lambda: any("/cy" in path for path in web.asked), "a letter with a login")
    eventually(lambda: any(SECRETS["alive"] in path for path in web.asked), "a sign of life")
    eventually(lambda: any("/api/v2/write" in path for path in web.asked), "a point")
    pond.start("page")
    look(pond)
    pond.end()
    assert pond.leaks() == []
    assert post.tried[0].decode() == SECRETS["mail"]


@pytest.mark.slow
def test_secrets_that_are_refused_and_repeated_stay_secret(
    tmp_path: Path, mosquitto: Callable[..., Any], closing: list[Callable[[], object]]
) -> None:
    broker, web, mail = mosquitto(password=("pond", "another")), Web(welcome=False), free_port()
    post = Post(mail, welcome=False)
    closing += [web.close, post.controller.stop]
    places = {"mqtt": broker.port, "tls": "false", "mail": mail, "security": "none", "page": free_port()}
    pond = Pond(tmp_path, places, web)
    pond.start("run")
    closing.append(pond.end)
    eventually(lambda: "refuse" in pond.log, "the broker's refusal")
    pond.speak(lambda: post.tried and any("/hooks/" in path for path in web.asked), "a letter each")
    pond.speak(lambda: any("/cy" in path for path in web.asked), "a letter with a login")
    eventually(lambda: any("/api/v2/write" in path for path in web.asked), "a point")
    eventually(lambda: any(SECRETS["alive"] in path for path in web.asked), "a sign of life")
    pond.start("page")
    look(pond)
    pond.end()
    assert "401" in pond.log
    assert pond.leaks() == []


@pytest.mark.slow
def test_secrets_behind_tls_that_is_not_to_be_trusted_are_not_even_sent(
    tmp_path: Path, mosquitto: Callable[..., Any], closing: list[Callable[[], object]]
) -> None:
    broker, mail = mosquitto(password=("pond", SECRETS["mqtt"]), tls=True), free_port()
    web, post = Web(welcome=True, tls=broker.folder), Post(mail, welcome=True)
    closing += [web.close, post.controller.stop]
    places = {"mqtt": broker.port, "tls": "true", "mail": mail, "security": "starttls", "page": free_port()}
    pond = Pond(tmp_path, places, web, "https")
    pond.start("run")
    closing.append(pond.end)
    pond.speak(lambda: pond.log.count("certificate") >= 5, "refused certificates")
    eventually(lambda: "mail:" in pond.log, "the refused mail")
    pond.start("page")
    look(pond)
    pond.end()
    assert web.asked == []
    assert post.tried == []
    assert pond.leaks() == []


def test_a_crash_leaves_no_image_of_the_memory(tmp_path: Path) -> None:
    """The secrets stand in the memory of both processes: neither may be written to a core file."""
    web = Web(welcome=True)
    places = {
        "mqtt": free_port(),
        "tls": "false",
        "mail": free_port(),
        "security": "none",
        "page": free_port(),
    }
    pond = Pond(tmp_path, places, web)
    before = resource.getrlimit(resource.RLIMIT_CORE)
    resource.setrlimit(resource.RLIMIT_CORE, (before[1], before[1]))
    try:
        service, page = pond.start("run"), pond.start("page")
    finally:
        resource.setrlimit(resource.RLIMIT_CORE, before)
    eventually(lambda: '"watching"' in pond.log, "the service")
    eventually(lambda: _opens(f"http://127.0.0.1:{places['page']}"), "the page")
    for each in (service, page):
        said = Path(f"/proc/{each.pid}/limits").read_text()
        row = next(line for line in said.splitlines() if line.startswith("Max core file size"))
        assert row.split()[4:6] == ["0", "0"]
        each.send_signal(signal.SIGABRT)
        assert each.wait(20) == -signal.SIGABRT
    web.close()
    asked = "import ctypes, dawnline.secret as s; s.keep_out_of_cores(); print(ctypes.CDLL(None).prctl(3))"
    assert subprocess.check_output([sys.executable, "-c", asked]) == b"0\n"  # PR_GET_DUMPABLE, prctl(2)
    assert not list(pond.kept.glob("core*"))
    assert json.loads(pond.log.splitlines()[0])
