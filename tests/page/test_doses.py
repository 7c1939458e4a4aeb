"""Doses at the page: the same plans and refusals as on the command line."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from starlette.testclient import TestClient

from dawnline.cli import _parser
from dawnline.page.views.doses import KINDS, WATER

Browser = Callable[..., TestClient]


def ask(client: TestClient, what: str, **given: str) -> tuple[int, str]:
    answer = client.get(
        f"/doses/{what}", params={**{key.replace("_", "-"): text for key, text in given.items()}, "go": "1"}
    )
    return answer.status_code, answer.text


@pytest.mark.parametrize("what", KINDS)
def test_every_kind_has_a_form(browser: Browser, what: str) -> None:
    client = browser()
    assert f"/doses/{what}" in client.get("/doses").text
    assert client.get(f"/doses/{what}").status_code == 200


def test_a_plan(browser: Browser) -> None:
    status, text = ask(browser(), "raise-kh", to="4dKH", kh="3dKH", ph="7.4", temperature="18C", ammonia="0.02mg/L N")
    assert status == 200
    assert "The plan" in text
    assert "of sodium bicarbonate" in text


def test_a_refusal_says_what_instead(browser: Browser) -> None:
    status, text = ask(browser(), "raise-kh", to="40dKH", kh="3dKH", ph="7.4", temperature="18C")
    assert status == 200
    assert "Not so" in text
    assert "instead:" in text


@pytest.mark.parametrize(
    ("what", "given", "says"),
    [
        ("raise-kh", {"to": "lots"}, "&#34;To which KH&#34;: found &#39;lots&#39;"),
        ("raise-kh", {}, "give &#34;To which KH&#34;, such as 5dKH"),
        ("raise-kh", {"to": "4dKH", "days": "soon"}, "expected a number of days from 1 to 365"),
        ("lower-ph", {"with": "vinegar", "air": "perhaps"}, "expected on or off"),
    ],
)
def test_what_is_no_figure_is_said(browser: Browser, what: str, given: dict[str, str], says: str) -> None:
    status, text = ask(browser(), what, **given)
    assert status == 400
    assert 'class="said refused"' in text
    assert says in text


@pytest.mark.parametrize("what", KINDS)
def test_every_field_is_an_option_of_the_command(what: str) -> None:
    words = ["dose", what]
    for field in (*KINDS[what].fields, *WATER):
        words += [f"--{field.key}", field.choices[0] if field.choices else "1"]
    assert _parser(words).parse_args(words).what == what


def test_options_cannot_be_smuggled_in(browser: Browser) -> None:
    status, text = ask(browser(), "raise-kh", to="4dKH", config="/etc/passwd", json="1", at="x")
    assert "/etc/passwd" not in text
    assert status == 200
