"""The web application: each route, who may follow it, and where the work is done."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route

from dawnline.delivery.ack_link import PATH
from dawnline.delivery.homie import device_id
from dawnline.errors import DawnlineError, InputError, SettingsError
from dawnline.page import overview, plain
from dawnline.page.answers import Answers
from dawnline.page.ask import Ask, Page
from dawnline.page.by_link import by_link
from dawnline.page.doors import Doors
from dawnline.page.guard import Guard
from dawnline.page.pond import Pond
from dawnline.page.session import COOKIE, Seal, key_of
from dawnline.page.sign_in import SignIn
from dawnline.page.view import Answer, View
from dawnline.page.views import ROUTES
from dawnline.page.visitors import Visitors

# At the same time. What waits for the service holds little; of what reads the store each has the memory of its largest
# page, and two at once are no quicker than one after the other.
ASKERS: Final = 4
PONDS: Final = "/ponds"

_ONLY_LOOK: Final = Page("trouble.html", {"said": "Guests may look, and change nothing."}, 403)
_NO_SUCH_PAGE: Final = Page("trouble.html", {"said": "There is no such page."}, 404)


class Site:
    """The page of one pond, or of many: then each has its pages under its own path, and the first page lists them."""

    def __init__(self, doors: Sequence[Doors]) -> None:
        """Where the page listens is the first one's to say; all agree on it.

        Raises SettingsError where a passphrase is none, or the key cannot be kept.
        """
        many = len(doors) > 1
        self.ponds = [Pond(each, _base(each) if many else "") for each in doors]
        self.page = doors[0].settings.page
        self._by_base = {each.base: each for each in self.ponds}
        self._only = None if many else self.ponds[0]
        seal = Seal(key_of(doors[0].settings.store.path))
        self._answers = Answers(seal, self._only)
        self._visitors = Visitors(seal, self._answers, doors[0])
        self._sign_in = SignIn(self._visitors, self._answers, doors[0].monotonic_s)
        self._looker, self._askers = ThreadPoolExecutor(1, "looker"), ThreadPoolExecutor(ASKERS, "asker")

    def app(self) -> Starlette:
        """The application."""
        hosts = {"localhost", "127.0.0.1", "::1", self.page.listen} if self.page.closed else None
        of_a_pond = [
            Route("/sign-in", self._signs_in, methods=["GET", "POST"]),
            *(Route(path, self._endpoint(view), methods=["POST"] if view.posts else ["GET"]) for path, view in ROUTES),
        ]
        routes: list[BaseRoute] = [
            Route("/style.css", plain.style),
            Route("/page.js", plain.script),
            Route(PATH, self._link, methods=["GET", "POST"]),
            Route("/sign-out", self._signs_out, methods=["POST"]),
        ]
        if self._only is None:
            routes += [Route("/", self._ponds("ponds.html")), Route("/ponds-part", self._ponds("ponds_part.html"))]
            routes.append(Mount(f"{PONDS}/{{pond}}", routes=of_a_pond))
        else:
            routes += of_a_pond
        handlers: dict[Any, Any] = {404: self._missing, 405: self._missing, **plain.HANDLERS}
        return Starlette(routes=routes, middleware=[Middleware(Guard, hosts=hosts)], exception_handlers=handlers)

    async def turns(self) -> None:
        """Comes back when the thread that draws pages is free: never where one hangs for ever."""
        await asyncio.get_running_loop().run_in_executor(self._looker, lambda: None)

    def _beside(self, asks: bool, work: Callable[..., Answer], *given: Any) -> Awaitable[Answer]:
        """What waits for the service, or else reads the store, beside the loop."""
        return asyncio.get_running_loop().run_in_executor(self._askers if asks else self._looker, work, *given)

    def _endpoint(self, view: View) -> Callable[[Request], Any]:
        async def endpoint(request: Request) -> Response:
            pond, visitors = self._pond(request), self._visitors
            who = visitors.who(request, pond)
            form = await plain.form(request) if view.posts else {}
            if who is None:
                return visitors.signed_out(request, form, pond)
            if view.posts and (refused := visitors.not_from_here(request, who.cookie, form, pond, who)):
                return refused
            if view.posts and not who.acts:
                return self._answers.response(_ONLY_LOOK, pond, who)
            token, query = visitors.form_token(who.cookie), dict(request.query_params)
            ask = Ask(pond.doors, who, token, request.path_params, query, form, pond.walks)
            response = self._answers.response(await self._beside(view.posts, _view, view, ask), pond, who)
            if request.cookies.get(COOKIE) != who.cookie:
                visitors.give(response, who.cookie)
            return response

        return endpoint

    def _ponds(self, template: str) -> Callable[[Request], Any]:
        """The first page of many ponds; of one that this browser may not look at, its name."""

        async def endpoint(request: Request) -> Response:
            session = self._visitors.session(request)
            seen = [(each, each.open or each.who(session) is not None) for each in self.ponds]
            answer = await self._beside(False, overview.page, template, seen)
            return self._answers.response(answer, None, None, session)

        return endpoint

    def _pond(self, request: Request) -> Pond:
        """The pond that a path is about. Raises HTTPException, 404, where there is none of that name."""
        name = request.path_params.get("pond")
        pond = self._by_base.get("" if name is None else f"{PONDS}/{name}")
        if pond is None:
            raise HTTPException(404)
        return pond

    async def _signs_in(self, request: Request) -> Response:
        return await self._sign_in.sign_in(request, self._pond(request))

    async def _signs_out(self, request: Request) -> Response:
        return await self._sign_in.sign_out(request, self._only)

    async def _link(self, request: Request) -> Response:
        """The link in a message is a key of its own: whoever has it may acknowledge these alarms, and no more."""
        ponds = [each for each in self.ponds if each.doors.settings.page.link_key is not None]
        if not ponds:
            return await self._missing(request, LookupError())
        posts = request.method == "POST"
        form = await plain.form(request) if posts else request.query_params
        answer = await self._beside(posts, by_link, ponds, request.method, form.get("t", ""))
        return self._answers.response(answer, None)

    async def _missing(self, request: Request, _error: Exception) -> Response:
        """No such page, of a pond or of none."""
        pond = self._only or self._by_base.get("/".join(request.url.path.split("/")[:3]))
        who = None if pond is None else self._visitors.who(request, pond)
        return self._answers.response(_NO_SUCH_PAGE, pond, who)


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
