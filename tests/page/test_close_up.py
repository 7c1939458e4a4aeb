"""Time looked at closer: any range, by links alone; what is typed wrong is said."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from html import unescape
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from starlette.testclient import TestClient

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.page.views.close_up import LONGEST_MS, SHORTEST_MS, steps
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.store import Store

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = 1_780_264_800_000  # 1 June 2026, 00:00 in Berlin
Browser = Callable[..., TestClient]


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


@pytest.fixture
def client(browser: Browser, settings: Any) -> TestClient:
    """A day of readings, one in ten seconds; in the third hour one of them sticks out, and an hour is missing."""
    opened = browser()
    store = Store.open(settings().store.path, [("ph", "ph")])
    at = [BEGIN + n * 10_000 for n in range(24 * 360) if not 5 <= n / 360 < 6]
    values = [
        (each, 7.83 if each == BEGIN + 3 * HOUR_MS + 70_000 else 7.0 + (each - BEGIN) / DAY_MS / 4) for each in at
    ]
    store.commit(
        Batch(
            readings=[Reading("ph", each, value, each, Flag.GOOD, Reason.NONE) for each, value in values], cursor=at[-1]
        )
    )
    store.close()
    return opened


def shown(client: TestClient, start: str, end: str) -> str:
    answer = client.get("/close-up", params={"from": start, "to": end})
    assert answer.status_code == 200, answer.text
    return answer.text


def frame(html: str) -> tuple[int, int]:
    found = re.search(r'data-first="(\d+)" data-last="(\d+)"', html)
    assert found is not None
    return int(found[1]), int(found[2])


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("2026-06-01T03:00", "2026-06-01T04:00"),
        ("2026-06-01T02:30:00+02:00", "2026-06-01T07:15:00+02:00"),
        ("2026-06-01T00:00:00Z", "2026-06-01T12:00:00Z"),
        ("2026-05-20T00:00", "2026-06-10T00:00"),
        ("2020-01-01T00:00", "2028-01-01T00:00"),
    ],
)
def test_any_range_keeps_the_one_that_sticks_out(client: TestClient, start: str, end: str) -> None:
    html = shown(client, start, end)
    assert ">7.83 <" in html
    first, last = frame(html)
    asked = [ms(each) if len(each) > 16 else ms(f"{each}+02:00") for each in (start, end)]
    slack = (asked[1] - asked[0]) // 100 + HOUR_MS  # whole steps; and the hour of winter time
    assert asked[0] - slack <= first <= asked[0] + HOUR_MS
    assert asked[1] <= last + HOUR_MS <= asked[1] + slack + HOUR_MS


def test_an_hour_is_drawn_from_the_readings(client: TestClient) -> None:
    html = shown(client, "2026-06-01T04:00", "2026-06-01T05:00")
    drawn = re.search(r'<path d="([^"]+)" class="ph"/>', html)
    assert drawn is not None
    assert drawn[1].count("L") == 359
    assert ">360<" in html
    assert "04:15" in html


def test_a_gap_is_no_line(client: TestClient) -> None:
    drawn = re.search(r'<path d="([^"]+)" class="ph"/>', shown(client, "2026-06-01T04:00", "2026-06-01T07:00"))
    assert drawn is not None
    assert drawn[1].count("M") == 2


def test_less_than_an_hour_is_an_hour_about_it(client: TestClient) -> None:
    assert frame(shown(client, "2026-06-01T03:00", "2026-06-01T03:10")) == (
        ms("2026-06-01T02:35+02:00"),
        ms("2026-06-01T03:35+02:00"),
    )


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        ("2026-10-25T02:00", "2026-10-25T03:00", 2),  # the hour that comes twice is there both times
        ("2026-10-25T02:00+01:00", "2026-10-25T03:00+01:00", 1),
        ("2026-03-29T01:00", "2026-03-29T03:00", 1),  # the one that is left out is no time at all
    ],
)
def test_the_changes_of_the_clock(start: str, end: str, hours: int, client: TestClient) -> None:
    html = shown(client, start, end)
    assert "Nothing was read in this time." in html
    forms = re.findall(r'type="datetime-local" value="([^"]+)"', html)
    assert forms == [start[:16], end[:16]]
    wider = next(unescape(each) for each in re.findall(r'href="([^"]+)" data-key="-"', html))
    assert wider.count("%2B") == 2  # links carry the offset
    span = [
        datetime.fromisoformat(each.replace("%3A", ":").replace("%2B", "+")) for each in re.findall(r"=([^&]+)", wider)
    ]
    assert (span[1] - span[0]).total_seconds() == 2 * hours * 3600


@pytest.mark.parametrize(
    "query", ["", "from=soon&to=later", "from=2026-06-01T05:00", "from=2026-06-01T05:00&to=2026-06-01T04:00",
              "from=1800-01-01T00:00&to=2026-06-01T04:00", "from=2000-01-01T00:00&to=2026-06-01T04:00",
              "from=9999-12-31T23:00&to=9999-12-31T23:59", "from=%00&to=%3Cscript%3E"],
)  # fmt: skip
def test_what_is_no_range_is_said(client: TestClient, query: str) -> None:
    answer = client.get(f"/close-up?{query}")
    assert answer.status_code == 400
    assert "expected" in answer.text
    assert "<script>" not in answer.text.replace('<script src="/page.js', "")


def test_links_lead_everywhere_and_no_further() -> None:
    end = BEGIN + SHORTEST_MS
    assert [each.name for each in steps(BEGIN, end, ZONE)] == [
        "Earlier",
        "Later",
        "Wider",
        "6 hours",
        "A day",
        "A week",
    ]
    longest = [each.name for each in steps(BEGIN, BEGIN + LONGEST_MS, ZONE)]
    assert longest == ["Earlier", "Later", "Closer", "An hour", "6 hours", "A day", "A week"]
    keys = {each.key for each in steps(BEGIN, BEGIN + 5 * HOUR_MS + MINUTE_MS, ZONE)}
    assert keys == {"", "ArrowLeft", "ArrowRight", "+", "-"}


def test_from_a_day_it_goes_on(client: TestClient) -> None:
    html = client.get("/days?from=2026-06-01&to=2026-06-01").text
    closer = next(unescape(each) for each in re.findall(r'href="([^"]+)" data-key="\+"', html))
    assert closer == "/close-up?from=2026-06-01T06%3A00%2B0200&to=2026-06-01T18%3A00%2B0200"
    assert client.get(closer).status_code == 200
    assert "By the clock" in html


def test_a_guest_and_a_stranger(browser: Browser) -> None:
    opened = '[page]\nlisten = "0.0.0.0"\npassphrase = "file:keeper"\n'
    path = "/close-up?from=2026-06-01T03:00&to=2026-06-01T04:00"
    assert browser(opened).get(path).headers["location"] == "/sign-in"
