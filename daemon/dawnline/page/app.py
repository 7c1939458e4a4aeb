"""The web application: who may see what, each route, and how a view becomes an answer."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final
from urllib.parse import urlsplit

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route

from dawnline import __version__
from dawnline.delivery.ack_link import PATH
from dawnline.delivery.homie import device_id
from dawnline.errors import DawnlineError, InputError, SettingsError
from dawnline.page import overview, plain
from dawnline.page.ask import Ask, Go, Page
from dawnline.page.attempts import Attempts
from dawnline.page.by_link import by_link
from dawnline.page.doors import Doors
from dawnline.page.guard import Guard
from dawnline.page.pond import Pond
from dawnline.page.session import COOKIE, LASTS_S, Seal, Session, Who, key_of
from dawnline.page.view import Answer, View
from dawnline.page.views import ROUTES
from dawnline.page.words import FILTERS
from dawnline.quantity import degrees

# At the same time. What waits for the service holds little; of what reads the store each has the memory of its largest
# page, and two at once are no quicker than one after the other.
ASKERS: Final = 4
PONDS: Final = "/ponds"

_ONLY_LOOK: Final = Page("trouble.html", {"said": "Guests may look, and change nothing."}, 403)
_NOT_FROM_HERE: Final = Page(
    "trouble.html",
    {"said": "That form did not come from a page of this session. Open the page again and repeat what you did."},
    403,
)


class Site:
    """The page of one pond, or of many: then each has its pages under its own path, and the first page lists them."""

    def __init__(self, doors: Sequence[Doors]) -> None:
        """Where the page listens is the first one's to say; all agree on it.

        Raises SettingsError where a passphrase is none, or the key cannot be kept.
        """
        self.many = len(doors) > 1
        self.ponds = [Pond(each, _base(each) if self.many else "") for each in doors]
        self.page = doors[0].settings.page
        self._by_base = {each.base: each for each in self.ponds}
        self._wall_s, self._monotonic_s = doors[0].wall_s, doors[0].monotonic_s
        self._seal = Seal(key_of(doors[0].settings.store.path))
        self._attempts, self._one_at_a_time = Attempts(), asyncio.Lock()
        # Always the same thread: the C library keeps the memory of a hash for each thread that ever made one.
        self._hasher = ThreadPoolExecutor(1, "hasher")
        self._looker, self._askers = ThreadPoolExecutor(1, "looker"), ThreadPoolExecutor(ASKERS, "asker")
        self._secure = (self.page.address or "").startswith("https:")
        self._said: dict[str, tuple[str, bool]] = {}
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
        hosts = {"localhost", "127.0.0.1", "::1", self.page.listen} if self.page.closed else None
        of_a_pond = [
            Route("/sign-in", self._sign_in, methods=["GET", "POST"]),
            *(Route(path, self._endpoint(view), methods=["POST"] if view.posts else ["GET"]) for path, view in ROUTES),
        ]
        routes: list[BaseRoute] = [
            Route("/style.css", plain.style),
            Route("/page.js", plain.script),
            Route(PATH, self._link, methods=["GET", "POST"]),
            Route("/sign-out", self._sign_out, methods=["POST"]),
        ]
        if self.many:
            routes += [Route("/", self._ponds("ponds.html")), Route("/ponds-part", self._ponds("ponds_part.html"))]
            routes.append(Mount(f"{PONDS}/{{pond}}", routes=of_a_pond))
        else:
            routes += of_a_pond
        handlers: dict[Any, Any] = {404: self._missing, 405: self._missing, **plain.HANDLERS}
        return Starlette(routes=routes, middleware=[Middleware(Guard, hosts=hosts)], exception_handlers=handlers)

    async def turns(self) -> None:
        """Comes back when the thread that draws pages is free: never where one hangs for ever."""
        await asyncio.get_running_loop().run_in_executor(self._looker, lambda: None)

    # ------------------------------------------------------------ views

    def _beside(self, asks: bool, work: Callable[..., Answer], *given: Any) -> Awaitable[Answer]:
        """What waits for the service, or else reads the store, beside the loop."""
        return asyncio.get_running_loop().run_in_executor(self._askers if asks else self._looker, work, *given)

    def _endpoint(self, view: View) -> Callable[[Request], Any]:
        async def endpoint(request: Request) -> Response:
            pond = self._pond(request)
            who = self._who(request, pond)
            form = await plain.form(request) if view.posts else {}
            if who is None:
                first = RedirectResponse(f"{pond.base}/sign-in", 303)
                return self._once_more(request, form, pond, None) if form and _ours(request) else first
            if view.posts and (refused := self._not_from_here(request, who.cookie, form, pond, who)):
                return refused
            if view.posts and not who.acts:
                return self._answer(_ONLY_LOOK, pond, who)
            token, query = self._seal.form_token(who.cookie), dict(request.query_params)
            ask = Ask(pond.doors, who, token, request.path_params, query, form, pond.walks)
            response = self._answer(await self._beside(view.posts, _view, view, ask), pond, who)
            if request.cookies.get(COOKIE) != who.cookie:
                self._give(response, who.cookie)
            return response

        return endpoint

    def _ponds(self, template: str) -> Callable[[Request], Any]:
        """The first page of many ponds; of one that this browser may not look at, its name."""

        async def endpoint(request: Request) -> Response:
            session = self._session(request)
            seen = [(each, each.open or each.who(session) is not None) for each in self.ponds]
            answer = await self._beside(False, overview.page, template, seen)
            return self._answer(answer, None, None, session)

        return endpoint

    def _pond(self, request: Request) -> Pond:
        """The pond that a path is about. Raises HTTPException, 404, where there is none of that name."""
        name = request.path_params.get("pond")
        pond = self._by_base.get("" if name is None else f"{PONDS}/{name}")
        if pond is None:
            raise HTTPException(404)
        return pond

    def _session(self, request: Request) -> Session | None:
        return self._seal.read(request.cookies.get(COOKIE, ""), self._wall_s())

    def _who(self, request: Request, pond: Pond) -> Who | None:
        """Who asks; on a page that is for this machine alone, whoever comes is a keeper."""
        session = self._session(request)
        if session is None and pond.open:
            session = self._seal.begin((), "", self._wall_s())
        return pond.who(session)

    def _not_from_here(
        self, request: Request, cookie: str, form: dict[str, str], pond: Pond | None, who: Who | None
    ) -> Response | None:
        """What is answered to a form that came from no page of this session; None where it did."""
        ours = _ours(request)
        if self._seal.is_form_token(cookie, form.get("token", "")) and ours is not False:
            return None
        if ours and form and pond is not None:
            return self._once_more(request, form, pond, who)
        return self._answer(_NOT_FROM_HERE, pond, who)

    def _once_more(self, request: Request, form: dict[str, str], pond: Pond, who: Who | None) -> Response:
        """The session ended while the form was open: what was typed is kept, and sent by hand with the token of now."""
        why = "this form was opened in a session that has ended."
        if who is None:
            why = "you are no longer signed in. Sign in on another tab, then come back here."
        typed = {name: value for name, value in form.items() if name != "token"}
        data = {"why": why, "typed": typed, "path": request.url.path}
        response = self._answer(Page("once_more.html", data, 403), pond, who)
        if who is not None:
            self._give(response, who.cookie)
        return response

    def _answer(
        self, answer: Answer, pond: Pond | None, who: Who | None = None, session: Session | None = None
    ) -> Response:
        """What goes out; `who` is signed in at this pond, `session` on a page that is of none."""
        if isinstance(answer, Response):
            return answer
        cookie = who.cookie if who is not None else session.cookie if session is not None else None
        if pond is None and not self.many:
            pond = self.ponds[0]
        base = "" if pond is None else pond.base
        if isinstance(answer, Go):
            if answer.said and cookie is not None:
                self._said[cookie] = (answer.said, answer.well)
                for old in list(self._said)[:-100]:
                    del self._said[old]
            return RedirectResponse(base + answer.to, 303)
        said, well = self._said.pop(cookie, ("", True)) if cookie is not None else ("", True)
        leaves = ""
        if who is not None and pond is not None and not pond.open:
            leaves = who.name or who.role
        elif session is not None and session.given:
            leaves = session.name or "signed in"
        shared = {
            "pond": "Ponds" if pond is None else pond.name, "base": base, "many": self.many and pond is not None,
            "who": who, "said_on_top": said, "said_well": well, "leaves": leaves, "version": __version__,
            "token": "" if cookie is None else self._seal.form_token(cookie),
        }  # fmt: skip
        text = self._templates.get_template(answer.template).render({**shared, **answer.data})
        return HTMLResponse(degrees(text), answer.status)

    # ------------------------------------------------------------ signing in

    async def _sign_in(self, request: Request) -> Response:
        pond = self._pond(request)

        def asked(trouble: str, status: int) -> Response:
            return self._answer(Page("sign_in.html", {"names": pond.names, "trouble": trouble}, status), pond)

        if request.method == "GET":
            return asked("", 200)
        form = await plain.form(request)
        address = request.client.host if request.client else ""
        async with self._one_at_a_time:  # a hash takes 16 MB: one at a time, and whoever guesses queues behind himself
            now_s = self._monotonic_s()
            wait_s = self._attempts.wait_s(address, now_s)
            if wait_s > 0:
                return asked(f"Too many wrong ones. Wait {wait_s:.0f} s, then try again.", 429)
            given = await asyncio.get_running_loop().run_in_executor(
                self._hasher, pond.opened_by, form.get("passphrase", "")
            )
            if given is None:
                self._attempts.wrong(address, now_s)
                return asked("That is not it.", 403)
            self._attempts.right(address)
        name, before = form.get("name", ""), self._session(request)
        marks = [each for each in before.given if each != given] if before is not None else []
        response = RedirectResponse(f"{pond.base}/", 303)
        session = self._seal.begin([*marks, given], name if name in pond.names else "", self._wall_s())
        self._give(response, session.cookie)
        return response

    async def _sign_out(self, request: Request) -> Response:
        session, form = self._session(request), await plain.form(request)
        pond = None if self.many else self.ponds[0]
        who = None if pond is None else pond.who(session)
        if session is not None and (refused := self._not_from_here(request, session.cookie, form, pond, who)):
            return refused
        response = RedirectResponse("/" if self.many else "/sign-in", 303)
        response.delete_cookie(COOKIE)
        return response

    def _give(self, response: Response, cookie: str) -> None:
        response.set_cookie(COOKIE, cookie, max_age=LASTS_S, httponly=True, samesite="strict", secure=self._secure)

    # ------------------------------------------------------------ the link in a message

    async def _link(self, request: Request) -> Response:
        """The link is a key of its own: whoever has it may acknowledge these alarms, and no more."""
        ponds = [each for each in self.ponds if each.doors.settings.page.link_key is not None]
        if not ponds:
            return await self._missing(request, LookupError())
        posts = request.method == "POST"
        form = await plain.form(request) if posts else request.query_params
        return self._answer(await self._beside(posts, by_link, ponds, request.method, form.get("t", "")), None)

    # ------------------------------------------------------------ the rest

    async def _missing(self, request: Request, _error: Exception) -> Response:
        """No such page, of a pond or of none."""
        pond = self._by_base.get("/".join(request.url.path.split("/")[:3])) if self.many else self.ponds[0]
        who = None if pond is None else self._who(request, pond)
        return self._answer(Page("trouble.html", {"said": "There is no such page."}, 404), pond, who)


def _ours(request: Request) -> bool | None:
    """Whether the browser says that a form came from a page of this address; None where it says nothing."""
    origin = request.headers.get("origin")
    return None if origin is None else urlsplit(origin).netloc == request.headers.get("host")


def _view(view: View, ask: Ask) -> Answer:
    """A view's answer, or what stood in its way, in words."""
    try:
        return view.look(ask)
    except (InputError, SettingsError) as error:
        return Page("trouble.html", {"said": str(error)}, 400)
    except DawnlineError as error:
        return Page("trouble.html", {"said": str(error)}, 503)


def _base(doors: Doors) -> str:
    """Where the pages of one of many ponds stand."""
    return f"{PONDS}/{device_id(doors.settings.pond.name)}"
