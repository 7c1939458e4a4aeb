"""The web application: who may see what, each route, and how a view becomes an answer."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files
from typing import Any, Final
from urllib.parse import parse_qsl, urlsplit

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from dawnline import __version__
from dawnline.delivery.ack_link import PATH, link_key
from dawnline.delivery.ack_page import answer
from dawnline.electrode.walk import Walk
from dawnline.errors import DawnlineError, InputError, SettingsError
from dawnline.page.ask import Ask, Go, Page
from dawnline.page.attempts import Attempts
from dawnline.page.doors import Doors
from dawnline.page.guard import Guard, TooLarge
from dawnline.page.passphrase import is_hash, matches
from dawnline.page.session import COOKIE, LASTS_S, Role, Seal, Who, key_of
from dawnline.page.view import Answer, View
from dawnline.page.views import ROUTES
from dawnline.page.words import FILTERS
from dawnline.quantity import degrees
from dawnline.review.look import FIGURE_STYLE
from dawnline.review.report_style import REPORT_STYLE
from dawnline.settings import Settings

_KEPT: Final = {"Cache-Control": "max-age=3600"}


class Site:
    """One pond's page."""

    def __init__(self, doors: Doors) -> None:
        """Raises SettingsError where a passphrase is none, or the key cannot be kept."""
        self.doors = doors
        page = doors.settings.page
        self.open = page.passphrase is None
        self._hashes = _hashes(doors.settings)
        self._seal = Seal(key_of(doors.settings.store.path), *self._hashes.values())
        self._attempts, self._one_at_a_time = Attempts(), asyncio.Lock()
        # Always the same thread: the C library keeps the memory of a hash for each thread that ever made one.
        self._hasher = ThreadPoolExecutor(1, "hasher")
        self._secure = (page.address or "").startswith("https:")
        self._said: dict[str, tuple[str, bool]] = {}
        self._walks: dict[str, Walk] = {}
        self._templates = Environment(
            loader=PackageLoader("dawnline.page"),
            autoescape=select_autoescape(default=True),
            undefined=StrictUndefined,
            auto_reload=False,  # one version of the program from start to stop
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._templates.filters.update(FILTERS)

    def app(self) -> Starlette:
        """The application."""
        page = self.doors.settings.page
        hosts = {"localhost", "127.0.0.1", "::1", page.listen} if page.closed else None
        routes = [
            Route("/style.css", self._style),
            Route("/page.js", self._script),
            Route(PATH, self._link, methods=["GET", "POST"]),
            Route("/sign-in", self._sign_in, methods=["GET", "POST"]),
            Route("/sign-out", self._sign_out, methods=["POST"]),
            *(Route(path, self._endpoint(view), methods=["POST"] if view.posts else ["GET"]) for path, view in ROUTES),
        ]
        handlers: dict[Any, Any] = {404: self._missing, 405: self._missing, 500: self._crashed, TooLarge: self._large}
        handlers |= {TimeoutError: self._late, ClientDisconnect: self._gone}
        return Starlette(routes=routes, middleware=[Middleware(Guard, hosts=hosts)], exception_handlers=handlers)

    # ------------------------------------------------------------ views

    def _endpoint(self, view: View) -> Callable[[Request], Any]:
        async def endpoint(request: Request) -> Response:
            who = self._who(request)
            form = await _form(request) if view.posts else {}
            if who is None:
                return self._once_more(request, None, form) if form else RedirectResponse("/sign-in", 303)
            if view.posts and (refused := self._not_from_here(request, who, form)):
                return refused
            if view.posts and not who.acts:
                return self._answer(Page("trouble.html", {"said": "Guests may look, and change nothing."}, 403), who)
            token, query = self._seal.form_token(who), dict(request.query_params)
            ask = Ask(self.doors, who, token, request.path_params, query, form, self._walks)
            answer = await run_in_threadpool(_view, view, ask)
            response = self._answer(answer, who)
            if request.cookies.get(COOKIE) != who.cookie:
                self._give(response, who)
            return response

        return endpoint

    def _who(self, request: Request) -> Who | None:
        """Who asks; on a page that is for this machine alone, whoever comes is a keeper."""
        now_s = self.doors.wall_s()
        who = self._seal.read(request.cookies.get(COOKIE, ""), now_s)
        if who is None and self.open:
            return self._seal.sign_in("keeper", "", now_s)
        return who

    def _not_from_here(self, request: Request, who: Who, form: dict[str, str]) -> Response | None:
        origin = request.headers.get("origin")
        ours = origin is not None and urlsplit(origin).netloc == request.headers.get("host")
        if self._seal.is_form_token(who, form.get("token", "")) and (ours or origin is None):
            return None
        if ours and form:
            return self._once_more(request, who, form)
        said = "That form did not come from a page of this session. Open the page again and repeat what you did."
        return self._answer(Page("trouble.html", {"said": said}, 403), who)

    def _once_more(self, request: Request, who: Who | None, form: dict[str, str]) -> Response:
        """The session ended while the form was open: what was typed is kept, and sent by hand with the token of now."""
        why = "this form was opened in a session that has ended."
        if who is None:
            why = "you are no longer signed in. Sign in on another tab, then come back here."
        typed = {name: value for name, value in form.items() if name != "token"}
        response = self._answer(
            Page("once_more.html", {"why": why, "typed": typed, "path": request.url.path}, 403), who
        )
        if who is not None:
            self._give(response, who)
        return response

    def _answer(self, answer: Answer, who: Who | None) -> Response:
        if isinstance(answer, Response):
            return answer
        if isinstance(answer, Go):
            if answer.said and who is not None:
                self._said[who.cookie] = (answer.said, answer.well)
                for old in list(self._said)[:-100]:
                    del self._said[old]
            return RedirectResponse(answer.to, 303)
        said, well = self._said.pop(who.cookie, ("", True)) if who is not None else ("", True)
        shared = {
            "pond": self.doors.settings.pond.name, "who": who, "said_on_top": said, "said_well": well,
            "token": "" if who is None else self._seal.form_token(who), "open": self.open, "version": __version__,
        }  # fmt: skip
        text = self._templates.get_template(answer.template).render({**shared, **answer.data})
        return HTMLResponse(degrees(text), answer.status)

    # ------------------------------------------------------------ signing in

    async def _sign_in(self, request: Request) -> Response:
        names = [person.name for person in self.doors.settings.people]
        if request.method == "GET":
            return self._answer(Page("sign_in.html", {"names": names, "trouble": ""}), None)
        form = await _form(request)
        address = request.client.host if request.client else ""
        async with self._one_at_a_time:  # a hash takes 16 MB: one at a time, and whoever guesses queues behind himself
            loop = asyncio.get_running_loop()
            now_s = loop.time()
            wait_s = self._attempts.wait_s(address, now_s)
            if wait_s > 0:
                data = {"names": names, "trouble": f"Too many wrong ones. Wait {wait_s:.0f} s, then try again."}
                return self._answer(Page("sign_in.html", data, 429), None)
            role = await loop.run_in_executor(self._hasher, self._role_of, form.get("passphrase", ""))
            if role is None:
                self._attempts.wrong(address, now_s)
                return self._answer(Page("sign_in.html", {"names": names, "trouble": "That is not it."}, 403), None)
            self._attempts.right(address)
        name = form.get("name", "")
        response = RedirectResponse("/", 303)
        self._give(response, self._seal.sign_in(role, name if name in names else "", self.doors.wall_s()))
        return response

    def _role_of(self, passphrase: str) -> Role | None:
        found: Role | None = None
        for role, kept in self._hashes.items():
            if matches(passphrase[:1000], kept) and found is None:
                found = role
        return found

    async def _sign_out(self, request: Request) -> Response:
        who, form = self._who(request), await _form(request)
        if who is not None and (refused := self._not_from_here(request, who, form)):
            return refused
        response = RedirectResponse("/sign-in", 303)
        response.delete_cookie(COOKIE)
        return response

    def _give(self, response: Response, who: Who) -> None:
        response.set_cookie(COOKIE, who.cookie, max_age=LASTS_S, httponly=True, samesite="strict", secure=self._secure)

    # ------------------------------------------------------------ the link in a message

    async def _link(self, request: Request) -> Response:
        """The link is a key of its own: whoever has it may acknowledge these alarms, and no more."""
        settings, doors = self.doors.settings, self.doors
        if settings.page.link_key is None:
            return await self._missing(request, LookupError())
        form = await _form(request) if request.method == "POST" else request.query_params

        def answered() -> Answer:
            try:
                key = link_key(settings.page.link_key) if settings.page.link_key else b""
                found = answer(
                    request.method, form.get("t", ""), key, pond=settings.pond.name, at=doors.now(),
                    put=lambda episode, person: doors.put("acknowledge", {"id": episode}, f"{person} (link)"),
                )  # fmt: skip
            except DawnlineError as error:
                return Page("trouble.html", {"said": str(error)}, 503)
            return Response(found.body, found.status, dict(found.headers))

        return self._answer(await run_in_threadpool(answered), None)

    # ------------------------------------------------------------ the rest

    async def _style(self, request: Request) -> Response:
        style = "\n".join((FIGURE_STYLE, REPORT_STYLE, _static("page.css")))
        return Response(style, media_type="text/css", headers=_KEPT)

    async def _script(self, request: Request) -> Response:
        return Response(_static("page.js"), media_type="text/javascript", headers=_KEPT)

    async def _missing(self, request: Request, _error: Exception) -> Response:
        who = self._who(request)
        return self._answer(Page("trouble.html", {"said": "There is no such page."}, 404), who)

    async def _crashed(self, _request: Request, error: Exception) -> Response:
        return PlainTextResponse(f"A fault of dawnline itself: {type(error).__name__}. The watch goes on.\n", 500)

    async def _large(self, _request: Request, _error: Exception) -> Response:
        return PlainTextResponse("That is more than any form here holds.\n", 413)

    async def _late(self, _request: Request, _error: Exception) -> Response:
        return PlainTextResponse("That took too long to arrive.\n", 408)

    async def _gone(self, _request: Request, _error: Exception) -> Response:
        return Response(status_code=400)  # nobody hears it: they hung up in the midst of a form


def _view(view: View, ask: Ask) -> Answer:
    """A view's answer, or what stood in its way, in words."""
    try:
        return view.look(ask)
    except (InputError, SettingsError) as error:
        return Page("trouble.html", {"said": str(error)}, 400)
    except DawnlineError as error:
        return Page("trouble.html", {"said": str(error)}, 503)


async def _form(request: Request) -> dict[str, str]:
    """The fields of a form; what is not sent as one has none."""
    body = await request.body()
    if not request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        return {}
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=100)
    except ValueError:
        return {}
    return {name: value.strip() for name, value in pairs}


def _static(name: str) -> str:
    return files("dawnline.page").joinpath("static", name).read_text(encoding="utf-8")


def _hashes(settings: Settings) -> dict[Role, str]:
    """The passphrase's hash by role, the keeper's first. Raises SettingsError."""
    page, found = settings.page, {}
    secrets: tuple[tuple[Role, Any], ...] = (("keeper", page.passphrase), ("guest", page.guest_passphrase))
    for role, secret in secrets:
        if secret is None:
            continue
        kept = secret.reveal().strip()
        if not is_hash(kept):
            raise SettingsError(
                f"secret {secret.reference}: found no hash, expected the line that `dawnline page --hash` prints"
            )
        found[role] = kept
    return found
