"""A calibration and a check at the page, step by step."""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from dawnline.page.views.buffers import ways

Browser = Callable[..., TestClient]
HERE = "/probes/ph/buffers"


class Probe:
    """A probe of finished pH that reads what a test puts it into."""

    def __init__(self) -> None:
        self.second, self.value, self.out = 0, 7.4, True
        self.under_way: str | None = None

    def __call__(self) -> Any:
        self.second += 10
        time = f"2026-06-14T05:{self.second // 60:02d}:{self.second % 60:02d}+02:00"
        held = {
            "time": None,
            "text": "never",
            "slope": 100.0,
            "offset": 0.0,
            "due": [],
            "under_way_until": self.under_way,
        }
        probe = {
            "quantity": "ph", "unit": "pH", "value": self.value, "flag": "good", "time": time, "age_s": 1.0, "ph": 7.0,
            "out_until": "2026-06-14T06:00:00+02:00" if self.out else None, "calibration": held,
        }  # fmt: skip
        data = {
            "time": time,
            "probes": {"ph": probe},
            "today": [],
            "tonight": [],
            "buffer": {},
            "alarms": [],
            "links": [],
        }
        return SimpleNamespace(data=data, running=True, age_s=1.0)


class Keeper:
    """Somebody with a phone."""

    def __init__(self, client: TestClient, probe: Probe) -> None:
        self.client, self.probe = client, probe

    def press(self, step: str, **form: str) -> str:
        page = self.client.get(HERE).text
        found = re.search(r'name="token" value="([^"]+)"', page)
        assert found is not None
        answer = self.client.post(f"{HERE}/{step}", data={"token": found[1], **form})
        assert answer.headers["location"] == HERE
        return self.client.get(HERE).text

    def wait(self, value: float) -> str:
        self.probe.value = value
        for _ in range(12):
            text = self.client.get(f"{HERE}-part").text
        return text


@pytest.fixture
def keeper(browser: Browser) -> Keeper:
    probe = Probe()
    return Keeper(browser(present=probe), probe)


def kinds(service: Any) -> list[str]:
    return [kind for kind, _, _ in service.got]


def test_own_buffers_are_offered_too() -> None:
    assert ways(["9.21"])[-2:] == [("9.21", "Calibrate in 9.21 alone"), ("check 9.21", "Only check in 9.21")]


def test_a_check_that_is_refused_says_so(keeper: Keeper, service: Any) -> None:
    keeper.press("begin", buffers="check 7")
    keeper.press("immersed", celsius="20")
    keeper.wait(10.05)
    service.verdict = (False, "it reads pH 10.05 in a buffer of 7.02")
    assert "efused: it reads pH 10.05" in keeper.press("replaced")


def test_two_buffers_kept(keeper: Keeper, service: Any) -> None:
    assert "Into buffer 7" in keeper.press("begin", buffers="7,10")
    assert service.got[0] == ("calibration", {"probe": "ph", "for": "30m", "outcome": True}, "page")
    assert "Waiting until it is steady" in keeper.press("immersed", celsius="25")
    assert "Into buffer 10" in keeper.wait(7.10)
    keeper.press("immersed", celsius="25,0")
    assert "Keep it?" in keeper.wait(10.05)
    assert "Back into the pond" in keeper.press("keep")
    kind, body, _ = service.got[-1]
    assert kind == "calibrated"
    assert [round(point[1], 2) for point in body["points"]] == [7.10, 10.05]
    keeper.press("replaced")
    assert kinds(service) == ["calibration", "calibrated", "return"]


def test_a_check_changes_nothing_and_is_noted(keeper: Keeper, service: Any) -> None:
    keeper.press("begin", buffers="check 7")
    keeper.press("immersed", celsius="20")
    assert "Back into the pond" in keeper.wait(7.05)
    keeper.press("replaced")
    assert kinds(service) == ["calibration", "buffer-check", "return"]


def test_what_may_not_be_kept_is_not_offered(keeper: Keeper, service: Any) -> None:
    keeper.press("begin", buffers="7,10")
    keeper.press("immersed", celsius="25")
    keeper.wait(8.5)
    keeper.press("immersed", celsius="25")
    text = keeper.wait(9.0)
    assert "Not to be kept" in text
    assert ">Keep it<" not in text
    assert "calibrated" not in kinds(service)


@pytest.mark.parametrize("steps", [[], ["immersed"]])
def test_stopped_at_any_step(keeper: Keeper, service: Any, steps: list[str]) -> None:
    keeper.press("begin", buffers="7,10")
    for step in steps:
        keeper.press(step, celsius="25")
    text = keeper.press("stop")
    assert "nothing has been changed" in text
    assert "put it back into the pond now" in text
    assert kinds(service) == ["calibration", "return"]


def test_a_temperature_that_no_buffer_has(keeper: Keeper) -> None:
    keeper.press("begin", buffers="7,10")
    for typed in ("warm", "90", ""):
        assert 'class="said refused"' in keeper.press("immersed", celsius=typed)
    assert "Waiting" in keeper.press("immersed", celsius="20")


def test_a_service_that_refuses(keeper: Keeper, service: Any) -> None:
    service.verdict = (False, "ph is out of service already")
    assert "out of service already" in keeper.press("begin", buffers="7")
    service.verdict = None
    assert "does not answer" in keeper.press("begin", buffers="7")


def test_the_time_is_over(keeper: Keeper) -> None:
    keeper.press("begin", buffers="7,10")
    keeper.probe.out = False
    assert ">Begin<" in keeper.client.get(HERE).text
    assert "begin again" in keeper.press("immersed", celsius="20")


def test_the_page_is_started_anew_on_the_way(keeper: Keeper, browser: Browser, service: Any) -> None:
    """What it knew of the way is gone: it says so, and the keeper begins again, or puts the probe back."""
    keeper.press("begin", buffers="7,10")
    keeper.press("immersed", celsius="25")
    keeper.probe.under_way = "2026-06-14T06:00:00+02:00"
    later = Keeper(browser(present=keeper.probe), keeper.probe)
    page = later.client.get(HERE).text
    assert "Begun, and lost from sight" in page
    assert "Nothing has been kept of it" in page
    assert "begin again" in later.press("immersed", celsius="25")
    assert "Into buffer 7" in later.press("begin", buffers="7,10")
    assert "lost from sight" not in later.client.get(HERE).text
    third = Keeper(browser(present=keeper.probe), keeper.probe)
    third.press("stop")
    assert kinds(service) == ["calibration", "calibration", "return"]
    keeper.probe.out, keeper.probe.under_way = False, None
    assert "lost from sight" not in third.client.get(HERE).text


@pytest.mark.parametrize("path", ["/probes/nobody/buffers", "/probes/%3Cb%3E/buffers"])
def test_a_probe_that_is_none(keeper: Keeper, path: str) -> None:
    answer = keeper.client.get(path)
    assert answer.status_code == 400
    assert "<b>" not in answer.text


def test_a_probe_that_the_service_does_not_know_any_more(browser: Browser) -> None:
    probe = Probe()
    gone = probe()
    gone.data["probes"].clear()
    said = browser(present=lambda: gone).get(HERE)
    assert said.status_code == 400
    assert "running service knows no probe ph" in said.text
