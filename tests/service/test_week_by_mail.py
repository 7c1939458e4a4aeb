"""The report of the week, from the fold to a real mail server, over power cuts."""

from __future__ import annotations

import email
import email.policy
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from aiosmtpd.controller import Controller

from dawnline.catalogue_file import shipped
from dawnline.review.report import MARK
from dawnline.service.week_drawn import WeekDrawn

from ..machine import free_port, until

ZONE = ZoneInfo("Europe/Berlin")
SECTIONS = """
[mail]
host = "127.0.0.1"
port = {port}
security = "none"
sender = "pond@example.org"
[[people]]
name = "Ada"
addresses = ["console:", "mailto:ada@example.org"]
[weekly]
to = ["Ada"]
on = "{on}"
at = "{at}"
"""

pytestmark = pytest.mark.filterwarnings("ignore:unclosed transport:ResourceWarning")


class Post:
    """A mail server that cuts the line for the first `cuts` letters, and tells somebody of it."""

    def __init__(self, cuts: int) -> None:
        self.cuts = cuts
        self.taken: list[EmailMessage] = []
        self.cut = threading.Event()

    async def handle_DATA(self, server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        if self.cuts:
            self.cuts -= 1
            server.transport.abort()
            self.cut.set()
        else:
            self.taken.append(email.message_from_bytes(envelope.content, policy=email.policy.default))
        return "250 OK"

    @property
    def reports(self) -> list[EmailMessage]:
        """Of what came, the reports of a week: the probe is silent, which is told as well."""
        return [each for each in self.taken if "the week" in str(each["Subject"])]


@pytest.fixture
def serve() -> Iterator[Callable[[Post], int]]:
    running: list[Controller] = []

    def start(handler: Post) -> int:
        port = free_port()
        running.append(Controller(handler, hostname="127.0.0.1", port=port, ident="test"))
        running[-1].start()
        return port

    yield start
    for controller in running:
        controller.stop()


def record(pond: Any, days: int) -> None:
    """The days up to now, as the simulator has them."""
    start = datetime.now(UTC) - timedelta(days=days)
    csv = str(pond.folder / "in.csv")
    words = ["write", "--scenario", "quiet-week", "--days", str(days), "--interval", "300s", "--start"]
    simulator = [sys.executable, "-m", "dawnline_simulator", *words, f"{start:%Y-%m-%dT%H:%M:%SZ}", csv]
    subprocess.run(simulator, check=True, capture_output=True)
    pond.command("replay", csv, "--store", str(pond.folder / "pond.db"))


def delivered(pond: Any) -> bool:
    """Whether the store knows that the report was taken."""
    with closing(sqlite3.connect(f"file:{pond.folder / 'pond.db'}?mode=ro", uri=True)) as db:
        query = "SELECT count(*) FROM outbox WHERE subject LIKE '%the week%' AND state = 'delivered'"
        return bool(db.execute(query).fetchone()[0])


@pytest.mark.slow
def test_it_comes_once_whatever_is_cut(make_pond: Any, serve: Callable[[Post], int]) -> None:
    post = Post(cuts=1)
    due = datetime.now(ZONE) + timedelta(minutes=9)
    pond = make_pond(SECTIONS.format(port=serve(post), on=f"{due:%A}".lower(), at=f"{due:%H:%M}"))
    record(pond, 4)
    assert "weekly report" in pond.command("check").stdout
    pond.start(DAWNLINE_CLOCK_RATE="60")
    until(lambda: pond.status().get("weekly"), "the service")
    assert datetime.fromisoformat(pond.status()["weekly"]["next"]) == due.replace(second=0, microsecond=0)
    assert "report     by mail to Ada: next" in pond.command("status").stdout
    until(post.cut.is_set, "a first attempt")
    pond.kill()  # the power fails while the letter is on its way
    pond.start(DAWNLINE_CLOCK_RATE="60")
    until(lambda: post.reports, "the letter")
    until(lambda: delivered(pond), "its delivery on record")  # until then it would be sent once more, and say so
    pond.kill()
    pond.start(DAWNLINE_CLOCK_RATE="60")
    until(lambda: pond.status().get("running"), "the service again")
    assert pond.status()["weekly"]["last_due"] == due.replace(second=0, microsecond=0).isoformat()
    until(lambda: (pond.status().get("post") or {}).get("open") == 0, "no letter left to send")
    (got,) = post.reports
    last = due.date() if due.hour >= 12 else due.date() - timedelta(days=1)
    assert got["Subject"] == f"Heron Lane: the week {last - timedelta(days=6)} to {last} (sent again)"
    text, page = got.get_body(), next(iter(got.iter_attachments()))
    assert text is not None
    assert "this message may have arrived before" in text.get_content()
    assert "\n- The dawn lows averaged" in text.get_content().replace("\r\n", "\n")
    assert (page.get_content_type(), page.get_filename()) == ("text/html", f"week-{last}.html")
    html = page.get_content()
    html = html.decode() if isinstance(html, bytes) else html
    assert MARK in html
    assert "<svg" in html
    assert not list((pond.folder / "runtime").glob("*.week.html"))


def test_a_report_that_cannot_be_drawn_says_how_to_have_it(tmp_path: Path) -> None:
    words = {"weekly_without": shipped().words["weekly_without"]}
    found = WeekDrawn(tmp_path / "none.toml", tmp_path / "week.html", words)(date(2026, 6, 1), date(2026, 6, 7))
    assert found.page == b""
    assert "none.toml" in found.text
    assert "dawnline review --from 2026-06-01 --to 2026-06-07 --html week.html" in found.text


def test_one_that_ends_with_the_service(tmp_path: Path) -> None:
    drawn = WeekDrawn(tmp_path / "none.toml", tmp_path / "week.html", shipped().words)
    drawn.stop()
    assert "the service is stopping" in drawn(date(2026, 6, 1), date(2026, 6, 7)).text
