"""What the pages show and do."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import closing
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from dawnline.cli.page import doors
from dawnline.errors import StoreError
from dawnline.event import Act
from dawnline.logbook.acts import POND_KINDS
from dawnline.logbook.settle import settle
from dawnline.page.views.logbook import fields
from dawnline.store.batch import Batch
from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.record import ActRow
from dawnline.store.store import Store

from .conftest import token

Browser = Callable[..., TestClient]
TIME = "2026-06-14T05:00:00+02:00"


def present(
    *, running: bool = True, alarms: Any = (), flag: str = "good", age_s: float = 4.0, **more: Any
) -> Callable[[], Any]:
    probe = {
        "quantity": "ph", "unit": "pH", "value": 7.12, "flag": flag, "time": TIME, "age_s": age_s, "out_until": None,
        "ph": 7.12, "swing_24h": 0.5,
    }  # fmt: skip
    data = {
        "pond": "Heron Lane", "time": TIME, "probes": {"ph": probe}, "today": [], "tonight": [], "buffer": {},
        "alarms": list(alarms), "links": [], **more,
    }  # fmt: skip
    return lambda: SimpleNamespace(data=data, running=running, age_s=1.0 if running else None)


def alarm(**changes: Any) -> dict[str, Any]:
    return {
        "id": 3, "alarm": "ph-low", "title": "pH is low", "probe": "ph", "state": "unacknowledged", "priority": "high",
        "since": TIME, "value": 6.4, "text": "pH 6.40, below 6.5", "by": "", "until": None, **changes,
    }  # fmt: skip


def head(client: TestClient) -> str:
    found = re.search(r'class="verdict (\w+)"><h1>([^<]*)', client.get("/").text)
    assert found is not None
    return f"{found[1]}: {found[2]}"


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({}, "well: All is well"),
        ({"running": False}, "blind: Nobody watches"),
        ({"alarms": [alarm()]}, "act: pH is low"),
        ({"alarms": [alarm(priority="medium")]}, "look: pH is low"),
        ({"alarms": [alarm(state="acknowledged")]}, "act: pH is low"),
        ({"alarms": [alarm(state="shelved")]}, "look: Shelved: pH is low"),
        ({"alarms": [alarm(state="shelved", priority="low")]}, "well: All is well"),
        ({"alarms": [alarm(alarm="no-data", state="shelved", priority="medium")]}, "well: All is well"),
        (
            {"alarms": [alarm(alarm="no-data", state="shelved", priority="medium")], "age_s": 90_000.0},
            "blind: The pH is not seen",
        ),
        ({"flag": "suspect"}, "blind: The pH is not seen"),
        ({"flag": "suspect", "alarms": [alarm(priority="medium")]}, "blind: The pH is not seen"),
    ],
)
def test_at_a_glance(browser: Browser, how: dict[str, Any], said: str) -> None:
    assert head(browser(present=present(**how))) == said


def test_a_service_that_is_gone_says_of_when_its_figures_are(browser: Browser) -> None:
    assert "how it was on Sun 14 Jun, 05:00" in browser(present=present(running=False)).get("/").text
    assert "Nothing is recorded" in browser().get("/").text


def test_whoever_is_woken_sees_the_act_before_the_steps_and_before_the_values(browser: Browser) -> None:
    def places(**how: Any) -> list[int]:
        text = browser(present=present(alarms=[alarm(**how)])).get("/").text
        return [text.index(word) for word in ("I have it", "What to do", "<dt>ph</dt>")]

    act, steps, value = places()
    assert act < steps < value
    act, steps, value = places(priority="low")
    assert value < act < steps


def test_a_probe_is_chosen_where_its_cleaning_is_noted(browser: Browser, service: Any) -> None:
    client = browser(present=present())
    text = client.get("/logbook/add/cleaning").text
    assert '<select id="f-probe" name="probe"><option value=""></option>\n<option>ph</option>' in text
    form = {"token": token(text), "probe": "ph", "before": "7.31", "after": "7.38", "when": "08:00"}
    assert client.post("/logbook/add/cleaning", data=form).status_code == 303
    kind, body, _ = service.got[-1]
    assert (kind, body["probe"], body["before"], body["after"]) == ("cleaning", "ph", 7.31, 7.38)


def test_what_was_done_at_a_probe_stands_with_its_trend(browser: Browser, settings: Any) -> None:
    client = browser(present=present())
    assert "What was done" not in client.get("/probes").text
    store = settings("").store.path
    acts = [
        Act("a", 1_781_000_000_000, "calibrated", {"probe": "ph", "points": [[7.0, 7.1, 20.0]]}, "ada"),
        Act("b", 1_781_000_100_000, "cleaning", {"probe": "ph", "before": 7.31, "after": 7.38}, "ada"),
        Act("c", 1_781_000_200_000, "calibrated", {"probe": "ph", "points": [[7.0, 9.1, 20.0]]}, "ada"),
    ]
    with closing(Store.open(store, [("ph", "ph")])) as db:
        rows = [ActRow(act, act.id != "c", "" if act.id != "c" else "the offset is too large", act.at) for act in acts]
        db.commit(Batch(acts=rows))
    text = client.get("/probes").text
    assert "Calibrated: slope 100.0 %, offset +0.10 pH at pH 7" in text
    assert "Cleaning: before 7.31, after 7.38" in text
    assert "Calibrated: refused: the offset is too large" in text
    assert "Electrode: cannot say yet" in text


def test_a_value_that_is_doubted_says_so(browser: Browser) -> None:
    day = {"probe": "ph", "dawn_low": 6.9, "dawn_low_at": TIME, "swing": 0.4}
    night = {"probe": "ph", "low": 6.8, "low_p10": 6.7, "low_p90": 6.9, "at": TIME}
    shown = present(flag="suspect", today=[day], tonight=[night])
    assert "doubted" not in browser(present=shown).get("/").text
    shown().data["probes"]["ph"] |= {"doubt": "frozen: it has stood still for 5 h", "kept_flag": "good"}
    client = browser(present=shown)
    text = client.get("/").text
    assert "suspect, 4 s old, doubted: frozen: it has stood still for 5 h" in text
    assert text.count("<small>doubted, ") == 3  # beside tonight, the dawn low and the swing
    assert head(client) == "well: All is well"  # it is seen; what stands against it is its alarm's to say


def test_the_first_thing_to_know_names_its_probe(browser: Browser) -> None:
    silent = alarm(alarm="no-data", title="A probe is silent", probe="oxygen", priority="medium")
    assert (
        'A probe is silent<span class="tag"> oxygen</span></h1>'
        in browser(present=present(alarms=[silent])).get("/").text
    )


def test_now_and_today_are_those_of_the_pond(browser: Browser, service: Any) -> None:
    """Its clock can be another than the machine's: in a demonstration, or while the machine's is wrong."""
    asked: list[Any] = []
    doors: dict[str, Any] = {"now": lambda: 1_749_870_000_000, "week": lambda *days: asked.append(days)}
    client = browser(present=present(), **doors)
    client.get("/")
    assert asked == [(date(2025, 6, 13), date(2025, 6, 14))]
    client.post("/logbook/add/note", data={"token": token(client.get("/logbook/add/note").text), "note": "a heron",
                                           "when": "04:30"})  # fmt: skip
    assert service.got[0][1]["when"].startswith("2025-06-14T04:30")


def test_a_plan_that_lacks_something_names_the_field(browser: Browser) -> None:
    text = browser(present=present()).get("/doses/raise-kh?go=1").text
    assert "&#34;To which KH&#34;" in text
    assert "--to" not in text


def test_acknowledge_and_shelve(browser: Browser, service: Any) -> None:
    client = browser(present=present(alarms=[alarm()]))
    right = token(client.get("/alarms").text)
    assert client.post("/alarms/3/acknowledge", data={"token": right}).headers["location"] == "/alarms"
    client.post("/alarms/3/shelve", data={"token": right, "for": "2h", "why": "<b>visitors</b>"})
    client.post("/alarms/3/unshelve", data={"token": right})
    assert [(kind, body) for kind, body, _ in service.got] == [
        ("acknowledge", {"id": 3}),
        ("shelve", {"id": 3, "for": "2h", "why": "<b>visitors</b>"}),
        ("unshelve", {"id": 3}),
    ]


def test_a_refusal_and_a_silent_service_are_said(browser: Browser, service: Any) -> None:
    client = browser(present=present(alarms=[alarm()]))
    right = token(client.get("/alarms").text)
    for verdict, said in (
        ((False, "there is no open alarm 3"), "Refused: there is no open alarm 3"),
        (None, "not answered"),
    ):
        service.verdict = verdict
        client.post("/alarms/3/acknowledge", data={"token": right})
        assert said in client.get("/alarms").text
        assert said not in client.get("/alarms").text  # once


def test_what_comes_from_outside_is_shown_as_text(browser: Browser) -> None:
    bad = '<script>alert("x")</script>'
    client = browser(present=present(alarms=[alarm(text=bad, by=bad, title=bad)], buffer={"text": bad}))
    for path in ("/", "/alarms", "/now-part", "/alarms-part"):
        assert "<script>alert" not in client.get(path).text
    assert "&lt;script&gt;" in client.get("/alarms").text


@pytest.mark.parametrize("kind", list(POND_KINDS))
def test_every_kind_of_entry_has_a_form(browser: Browser, kind: str) -> None:
    page = browser().get(f"/logbook/add/{kind}")
    assert page.status_code == 200
    assert len(re.findall(r"<(input|select) id=", page.text)) == len(fields(kind)) >= 2


def test_at_a_glance_ammonia_and_what_is_due_stand_too(browser: Browser) -> None:
    reminders = [{"text": "test KH: not noted yet", "overdue": True}, {"text": "clean the probe", "overdue": False}]
    data = present(ammonia={"text": "un-ionised ammonia 0.015 mg/L"}, reminders=reminders)
    text = browser(present=data).get("/").text
    assert "Un-ionised ammonia 0.015 mg/L" in text
    assert "Test KH: not noted yet" in text
    assert "lean the probe" not in text


EXAMPLES = [
    (kind, field.key, example)
    for kind in POND_KINDS
    for field in fields(kind)
    if field.hint and field.key not in ("when", "photo")
    for example in field.hint.split(" or ")
]


@pytest.mark.parametrize(("kind", "key", "example"), EXAMPLES)
def test_what_a_form_gives_as_an_example_is_taken(kind: str, key: str, example: str) -> None:
    chief = {
        "aerated-cup": {"before": "6.4", "after": "7.6"},
        "water-change": {"amount": "15%"},
        "top-up": {"amount": "20 mm"},
        "feed": {"amount": "120 g/day"},
        "cleaning": {"probe": "ph"},
        "adjusted": {"probe": "ph"},
    }
    beside = {"what": "x"} if "what" in (field.key for field in fields(kind)) else chief.get(kind, {})
    assert settle(kind, {**beside, key: example})[0] == kind


def test_figures_as_they_are_typed(browser: Browser, service: Any) -> None:
    client = browser()
    right = token(client.get("/logbook/add/hand-test").text)
    answer = client.post("/logbook/add/hand-test", data={"token": right, "kh": "6 drops", "ph": "7,4", "gh": ""})
    assert answer.status_code == 303
    assert service.got[-1][:2] == ("hand-test", {"kh_dkh": 6.0, "kh_step_dkh": 1.0, "ph": 7.4})


def test_what_no_service_takes_is_dated_when_it_was_written(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dawnline.cli.ask.WAIT_S", 0.0)
    monkeypatch.setattr("dawnline.cli.ask.from_environment", lambda: SimpleNamespace(now=lambda: 1_749_870_000_000))
    pond = settings()
    assert doors(pond).put("note", {"note": "a heron"}, "Ada (page)") is None
    assert doors(pond).put("note", {"note": "two", "when": TIME}, "Ada (page)") is None
    with Inbox.open(inbox_path(pond.store.path)) as inbox:
        assert [row.body["when"] for row in inbox.pending()] == ["2025-06-14T05:00:00+02:00", TIME]


def test_a_refused_entry_keeps_what_was_typed(browser: Browser, service: Any) -> None:
    client = browser()
    right = token(client.get("/logbook/add/hand-test").text)
    answer = client.post("/logbook/add/hand-test", data={"token": right, "kh": "6 bananas", "ph": "7.4"})
    assert answer.status_code == 400
    assert 'value="6 bananas"' in answer.text
    assert 'value="7.4"' in answer.text
    assert service.got == []


def test_an_entry_stands_however_old_it_is(browser: Browser, settings: Any) -> None:
    client = browser()
    act = Act("1", 1_577_836_800_000, "note", {"note": "a heron"}, "ada")  # 2020-01-01
    with closing(Store.open(settings().store.path, [("ph", "ph")])) as store:
        store.commit(Batch(acts=[ActRow(act, True, "noted", act.at)], cursor=act.at))
    assert "a heron" in client.get("/logbook").text


@pytest.mark.parametrize(
    "path",
    [
        *("/logbook/add/nonsense", "/days?from=soon", "/days?from=2026-06-09&to=2026-06-01"),
        *("/days?from=1970-01-01", "/days?from=2099-12-31"),  # longer than ten years up to today; after it
    ],
)
def test_a_call_that_is_wrong_is_answered_in_words(browser: Browser, path: str) -> None:
    answer = browser().get(path)
    assert answer.status_code == 400
    assert "expected" in answer.text or "there is no" in answer.text


def test_an_empty_store(browser: Browser) -> None:
    client = browser()
    for path in ("/", "/days", "/alarms", "/logbook", "/probes"):
        assert client.get(path).status_code == 200


def test_a_store_that_cannot_be_read_is_said(browser: Browser) -> None:
    def broken(*_: Any) -> Any:
        raise StoreError("store pond.db: it is damaged: move it away and put a backup in its place")

    answer = browser(present=present(), week=broken).get("/days")
    assert answer.status_code == 503
    assert "put a backup in its place" in answer.text


def test_a_fault_of_ours_tells_no_more_than_its_name(browser: Browser) -> None:
    def crash() -> Any:
        raise RuntimeError("secret path /home/ada")

    answer = browser(present=crash).get("/")
    assert answer.status_code == 500
    assert "secret" not in answer.text
