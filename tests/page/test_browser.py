"""The page in a real browser: what a keeper does with it, at a phone's width and wide, light and dark."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from dawnline.page.passphrase import hashed

from ..machine import missing, program, until
from .chromium import FLAGS, RealPond

NOW = datetime.now(UTC)
CLOSE_UP = f"/close-up?from={NOW - timedelta(hours=30):%Y-%m-%dT%H:00Z}&to={NOW:%Y-%m-%dT%H:00Z}"
PAGES = (
    "/", "/days", CLOSE_UP, "/alarms", "/logbook", "/logbook/add/hand-test", "/logbook/add/feed", "/doses",
    "/doses/raise-kh", "/doses/water-change", "/probes", "/probes/ph/buffers", "/nowhere",
)  # fmt: skip
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1440, "height": 900}


@pytest.fixture(scope="session")
def chrome() -> Iterator[Any]:
    """One browser for all."""
    if find_spec("playwright") is None or find_spec("axe_playwright_python") is None:
        missing("playwright or axe-playwright-python (dependency group oracle)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program("chromium"), args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture
def visit(chrome: Any) -> Iterator[Callable[..., Any]]:
    """`visit(pond)` is a window of a new visitor; what its console complains of fails the test."""
    contexts, complaints = [], list[str]()

    def new(pond: RealPond, size: Any = PHONE, **options: Any) -> Any:
        contexts.append(chrome.new_context(viewport=size, base_url=pond.base, **options))
        window = contexts[-1].new_page()
        window.on("pageerror", lambda error: complaints.append(str(error)))
        window.on("console", lambda said: said.type in ("error", "warning") and complaints.append(said.text))
        return window

    yield new
    for context in contexts:
        context.close()
    expected = ("404 (Not Found)", "400 (Bad Request)", "403 (Forbidden)", "ERR_CONNECTION_REFUSED")
    assert [each for each in complaints if not any(word in each for word in expected)] == []


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealPond]:
    """Four days of the record, and a service that hears a pH far too low."""
    made = RealPond(tmp_path_factory.mktemp("pond"))
    start = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=4)
    made.record("quiet-week", 4, start.isoformat(), interval="180s")
    made.ph = 5.8
    made.plug()
    made.start("run")
    made.start("page")
    yield made
    made.end()


@pytest.fixture(scope="module")
def axe() -> str:
    """The script of axe-core out of the Python package; the driver evaluates it, past the page's own policy."""
    found = find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        missing("axe-playwright-python (dependency group oracle)")
        return ""
    return (Path(found.origin).parent / "axe.min.js").read_text(encoding="utf-8")


def violations(window: Any, axe: str) -> list[str]:
    """What axe-core finds, each with where."""
    window.evaluate(axe)
    run = "axe.run(document, { resultTypes: ['violations'] }).then((found) => JSON.stringify(found.violations))"
    found = json.loads(window.evaluate(run))
    return [f"{each['id']}: {node['target']} {node['failureSummary']}" for each in found for node in each["nodes"]]


def alarms(window: Any) -> Any:
    """The alarms page, once there is one of high priority that nobody has: it stays first, as the pH is far too low."""

    def found() -> bool:
        window.goto("/alarms")
        return bool(window.locator("article.high").get_by_role("button", name="I have it").count())

    until(found, "an alarm")
    return window.locator("article")


@pytest.mark.slow
@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (WIDE, "dark"), (PHONE, "dark"), (WIDE, "light")])
def test_every_page_reads_well(pond: RealPond, visit: Any, axe: str, size: Any, scheme: str) -> None:
    window = visit(pond, size, color_scheme=scheme)
    alarms(window)
    found = {}
    for path in PAGES:
        window.goto(path)
        assert window.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is wider than the screen"
        for summary in window.locator("summary").all():
            summary.evaluate("(each) => { each.parentElement.open = true; }")
        if bad := violations(window, axe):
            found[path] = bad
    assert found == {}


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealPond]:
    """A service and a page of three ponds, one of them behind a passphrase."""
    made = RealPond(tmp_path_factory.mktemp("club"))
    one = made.config.read_text(encoding="utf-8")
    (made.folder / "locked").write_text(hashed("four words are easy") + "\n")
    others = (("Grandmother Hildegard's long garden pond", ""), ("Show tank", 'passphrase = "file:locked"\n'))
    for name, page in others:
        text = one.replace("Heron Lane", name).replace("pond.db", f"{name[:4]}.db").replace("/probe", f"/{name[:4]}")
        (made.folder / f"{name[:4]}.toml").write_text(text + page, encoding="utf-8")
    made.config = made.folder
    made.plug()
    made.start("run")
    made.start("page")
    yield made
    made.end()


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (WIDE, "dark"), (PHONE, "dark"), (WIDE, "light")])
def test_the_first_page_of_many_ponds(club: RealPond, visit: Any, axe: str, size: Any, scheme: str) -> None:
    window = visit(club, size, color_scheme=scheme)

    def watched() -> bool:
        window.goto("/")
        return bool(window.locator("li", has_text="Heron Lane").get_by_text("pH 7.40").count())

    until(watched, "a pond that is watched")
    assert window.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert violations(window, axe) == []
    assert "Sign in to see it" in window.locator("li", has_text="Show tank").inner_text()
    window.get_by_role("link", name="Heron Lane").click()
    assert "/ponds/heron-lane/" in window.url
    window.get_by_role("link", name="Days", exact=True).click()
    assert "/ponds/heron-lane/days" in window.url
    assert violations(window, axe) == []
    window.get_by_role("link", name="All ponds").click()
    window.get_by_role("link", name="Show tank").click()
    window.get_by_label("Passphrase").fill("four words are easy")
    window.get_by_role("button", name="Sign in").click()
    window.locator(".verdict").wait_for()
    assert "/ponds/show-tank/" in window.url
    window.get_by_role("link", name="All ponds").click()
    assert "Sign in" not in window.locator("main").inner_text()
    window.get_by_role("button", name="Sign out").click()
    assert "Sign in to see it" in window.locator("main").inner_text()


def moved(window: Any, act: Callable[[], Any]) -> str:
    """Do something that leads to another stretch of time; where it leads, once that is shown."""
    before = window.evaluate("location.href")
    act()
    window.wait_for_function("(before) => location.href !== before", arg=before)
    window.locator("h1").wait_for()
    return str(window.evaluate("location.href"))


def span(url: str) -> float:
    """Hours from one time to the other of an address."""
    query = parse_qs(urlsplit(url).query)
    first, last = (datetime.fromisoformat(query[name][0].replace("Z", "+00:00")) for name in ("from", "to"))
    return (last - first).total_seconds() / 3600


def drag(window: Any, begin: float, end: float) -> None:
    """Over the first figure, from one share of its width to another."""
    figure = window.locator("[data-zoom] figure svg:visible").first
    figure.scroll_into_view_if_needed()
    box = figure.bounding_box()
    window.mouse.move(box["x"] + box["width"] * begin, box["y"] + box["height"] / 2)
    window.mouse.down()
    window.mouse.move(box["x"] + box["width"] * end, box["y"] + box["height"] / 2, steps=4)
    window.mouse.up()


def test_another_range(pond: RealPond, visit: Any) -> None:
    window = visit(pond, WIDE)
    window.goto("/days")
    moved(window, window.get_by_role("link", name="A day", exact=True).click)
    one = window.get_by_label("From").input_value()
    assert one == window.get_by_label("to", exact=True).input_value()
    moved(window, window.get_by_role("link", name="Earlier").click)
    assert window.get_by_label("From").input_value() < one
    wanted = (datetime.fromisoformat(one) - timedelta(days=2)).strftime("%Y-%m-%d")
    window.get_by_label("From").fill(wanted)
    window.get_by_label("to", exact=True).fill(one)
    window.get_by_role("button", name="Show").click()
    assert f"from={wanted}&to={one}" in window.url


def test_closer_by_pointer_by_keyboard_and_back(pond: RealPond, visit: Any) -> None:
    window = visit(pond, WIDE)
    window.goto("/days")
    head = window.locator("h1").inner_text()
    url = moved(window, lambda: drag(window, 0.45, 0.55))
    assert "/close-up?" in url
    assert 14 < span(url) < 22  # a tenth of seven days
    again = moved(window, lambda: drag(window, 0.5, 0.6))
    assert 1 < span(again) < 3
    figure = window.locator("[data-zoom] svg:visible").first
    figure.focus()
    closer = moved(window, lambda: window.keyboard.press("+"))
    assert span(closer) == pytest.approx(max(1, span(again) / 2), abs=0.05)
    assert window.locator("[data-zoom] svg:visible").first.evaluate("(each) => each === document.activeElement")
    wider = moved(window, lambda: window.keyboard.press("-"))
    earlier = moved(window, lambda: window.keyboard.press("ArrowLeft"))
    assert span(wider) == span(earlier) == 2 * span(closer)
    assert window.locator("#heard").inner_text() == window.locator("h1").inner_text()
    for _ in range(5):
        window.go_back()
    until(lambda: window.locator("h1").inner_text() == head, "the days again")
    window.get_by_role("link", name="By the clock").click()
    window.get_by_label("From").fill("2026-01-05T03:00")
    window.get_by_label("to", exact=True).fill("2026-01-05T04:00")
    window.get_by_role("button", name="Show").click()
    assert "Mon 5 Jan 2026, 03:00 to 04:00" in window.locator("h1").inner_text()


def test_a_tab_that_nobody_sees_asks_for_nothing(pond: RealPond, visit: Any) -> None:
    window, asked = visit(pond), list[str]()
    window.clock.install()
    window.goto("/")
    window.on("request", lambda request: asked.append(request.url))
    window.clock.fast_forward(6000)
    until(lambda: asked, "a first question")
    hide = "(hidden) => { Object.defineProperty(document, 'hidden', { get: () => hidden, configurable: true });"
    hide += " document.dispatchEvent(new Event('visibilitychange')); }"
    window.evaluate(hide, True)
    asked.clear()
    for _ in range(10):
        window.clock.fast_forward(60_000)
    window.wait_for_timeout(300)
    assert asked == []
    window.evaluate(hide, False)
    until(lambda: asked, "a question once it is seen again")


def test_who_types_is_not_disturbed(pond: RealPond, visit: Any) -> None:
    window = visit(pond)
    window.clock.install()
    article = alarms(window).last
    article.get_by_text("Shelve", exact=True).click()
    article.get_by_label("Why").fill("half a sent")
    window.clock.fast_forward(15_000)
    window.wait_for_timeout(300)
    assert article.get_by_label("Why").input_value() == "half a sent"
    window.clock.fast_forward(15_000)
    assert window.locator("html.stale").count() == 1  # and what stands beside it is shown as old
    article.locator("summary").last.focus()
    window.clock.fast_forward(6_000)
    window.locator("html:not(.stale)").wait_for()
    assert window.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_what_is_folded_and_what_is_unfolded_stays_so(pond: RealPond, visit: Any) -> None:
    """Every alarm has something to do that can be unfolded; the first one's stands open at first."""
    window = visit(pond)
    window.clock.install()
    articles = alarms(window)
    assert articles.count() > 1
    articles.first.get_by_text("What to do").click()
    articles.last.get_by_text("What to do").click()
    window.evaluate("document.querySelector('[data-live]').append('~before~')")
    window.clock.fast_forward(6_000)
    until(lambda: "~before~" not in window.locator("[data-live]").inner_text(), "the part to be renewed")
    opened = window.locator("article details[open]")
    assert opened.count() == 1
    assert articles.last.locator("details[open]").count() == 1


def test_a_year_without_readings(pond: RealPond, visit: Any) -> None:
    window = visit(pond)
    window.goto("/days?from=2019-01-01&to=2019-12-31")
    assert "That did not work" not in window.locator("main").inner_text()
    window.goto("/days?from=2024-01-01&to=2026-12-31")
    assert window.locator("h1").inner_text()


def test_an_alarm_is_taken_and_another_shelved(pond: RealPond, visit: Any) -> None:
    window, other = visit(pond), visit(pond, WIDE)
    first = alarms(window).first
    assert first.locator("details[open] summary").all_inner_texts() == ["What to do"]
    assert window.locator("article details[open]").count() == 1
    title = first.locator("h2").inner_text()
    mine = window.get_by_role("heading", name=title, exact=True)  # a graver one may come meanwhile, and be the first
    here = window.locator("article").filter(has=mine)
    other.goto("/alarms")
    here.get_by_role("button", name="I have it").click()
    window.locator(".said").wait_for()  # it leads to the page it came from: the address tells nothing
    taken = other.locator("article").filter(has_text=title).filter(has_text=re.compile(r"priority, acknowledged"))
    until(taken.count, "the other window to learn of it without being touched")
    here.get_by_text("Shelve", exact=True).click()
    here.get_by_label("Why").fill("the buffer is on its way")
    here.get_by_role("button", name="Shelve it").click()
    window.get_by_role("button", name="Show it again").wait_for()
    assert window.get_by_role("button", name="Show it again").count() == 1


def test_the_logbook(pond: RealPond, visit: Any) -> None:
    window = visit(pond)
    window.goto("/logbook")
    window.get_by_role("link", name="Hand test").click()
    window.get_by_label("pH", exact=False).first.fill("a fish")
    window.get_by_role("button", name="Write it down").click()
    assert window.get_by_role("alert").is_visible()
    assert window.locator("input[value='a fish']").count() == 1
    window.locator("input[value='a fish']").fill("7.1")
    window.get_by_role("button", name="Write it down").click()
    assert "7.1" in window.locator(".entries li").first.inner_text()


def test_doses(pond: RealPond, visit: Any) -> None:
    window = visit(pond)
    window.goto("/doses")
    window.get_by_role("link", name="Raise KH").click()
    window.get_by_label("To which KH").fill("5dKH")
    window.get_by_text("The pond's water").click()
    window.get_by_label("KH now").fill("2dKH")
    window.get_by_label("Total ammonia").fill("0mg/L N")
    window.get_by_role("button", name="Reckon").click()
    assert "bicarbonate" in window.locator(".plan").inner_text()


@pytest.mark.slow
def test_a_calibration_then_the_service_is_restarted(pond: RealPond, visit: Any) -> None:
    window = visit(pond)
    window.clock.install()  # what the script waits for is skipped below
    window.goto("/probes")
    window.get_by_role("link", name="Calibrate or check").first.click()
    window.get_by_label("What to do").select_option("7,10")
    window.get_by_role("button", name="Begin").click()
    pond.stop("page")
    pond.start("page")
    window.goto("/probes/ph/buffers")
    assert "Begun, and lost from sight" in window.locator("main").inner_text()
    window.get_by_label("What to do").select_option("7")
    window.get_by_role("button", name="Begin").click()
    assert "Into buffer 7" in window.locator("main").inner_text()
    pond.ph = 7.10
    window.get_by_label("The buffer is at").fill("25")
    window.get_by_role("button", name="It stands in it").click()
    soon(window, window.get_by_role("button", name="Keep it"))  # appears by itself, once it is steady
    window.get_by_role("button", name="Keep it").click()
    window.get_by_role("button", name="It hangs in the pond").click()
    window.goto("/probes")
    assert "never calibrated" not in window.locator("main").inner_text()

    window.goto("/")
    pond.stop("run")
    soon(window, window.get_by_text("Nobody watches"))
    pond.start("run")
    soon(window, window.get_by_text("Nobody watches"), there=False)
    pond.stop("page")
    soon(window, window.locator("html.stale"))
    assert window.get_by_text("what you see is old").is_visible()
    pond.start("page")
    soon(window, window.locator("html:not(.stale)"))


def soon(window: Any, what: Any, *, there: bool = True) -> None:
    """Let the window's own clock run ahead until something is there, or is not."""

    def looked() -> bool:
        window.clock.fast_forward(5500)
        window.wait_for_timeout(100)
        return bool(what.count()) == there

    until(looked, str(what))


def test_by_keyboard(pond: RealPond, visit: Any) -> None:
    window = visit(pond, WIDE)
    window.goto("/doses/raise-kh")
    seen, outlined = [], []
    for _ in range(40):
        window.keyboard.press("Tab")
        name, outline = window.evaluate(
            "() => { const on = document.activeElement; return [on.tagName === 'BODY' ? '' : on.textContent.trim()"
            " || on.id, getComputedStyle(on).outlineStyle]; }"
        )
        if not name:
            break
        seen.append(name)
        outlined.append(outline)
    assert seen[:8] == ["To the content", "Heron Lane", "Now", "Days", "Alarms", "Logbook", "Doses", "Probes"]
    assert seen[-2:] == ["Reckon", "Leave"]
    assert "none" not in outlined
    window.goto("/logbook/add/note")
    window.locator("main input:not([type=hidden])").first.focus()
    window.keyboard.type("written by keyboard")
    window.keyboard.press("Enter")
    window.wait_for_url("**/logbook")
    assert "written by keyboard" in window.locator(".entries").inner_text()


def test_without_script(pond: RealPond, visit: Any) -> None:
    window = visit(pond, java_script_enabled=False)
    for path in PAGES:
        window.goto(path)
        assert window.locator("h1").first.is_visible()
    window.goto("/logbook/add/note")
    window.locator("main input:not([type=hidden])").first.fill("no script")
    window.get_by_role("button", name="Write it down").click()
    assert "no script" in window.locator(".entries").inner_text()


def test_sign_in_refusal_and_a_guest(tmp_path: Path, visit: Any, axe: str) -> None:
    (tmp_path / "keeper").write_text(hashed("four words are easy") + "\n")
    (tmp_path / "guest").write_text(hashed("just look around") + "\n")
    pond = RealPond(tmp_path, 'passphrase = "file:keeper"\nguest_passphrase = "file:guest"\n')
    pond.start("run")
    pond.start("page")
    try:
        window = visit(pond)
        window.goto("/logbook")
        assert window.url.endswith("/sign-in")
        assert violations(window, axe) == []
        window.get_by_label("Passphrase").fill("let me in")
        window.get_by_role("button", name="Sign in").click()
        assert window.get_by_role("alert").inner_text() == "That is not it."
        window.get_by_label("Passphrase").fill("four words are easy")
        window.get_by_label("Who are you?").select_option("Ada")
        window.get_by_role("button", name="Sign in").click()
        for path in PAGES:  # of a pond that has recorded nothing
            window.goto(path)
            assert window.locator("h1").first.is_visible()
            assert "fault of dawnline" not in window.content()
            assert violations(window, axe) == []
        guest = visit(pond, WIDE)
        guest.goto("/")
        guest.get_by_label("Passphrase").fill("just look around")
        guest.get_by_role("button", name="Sign in").click()
        guest.goto("/logbook")
        assert guest.get_by_role("link", name="Hand test").count() == 0
        guest.get_by_role("button", name="Sign out").click()
        assert guest.url.endswith("/sign-in")
    finally:
        pond.end()
