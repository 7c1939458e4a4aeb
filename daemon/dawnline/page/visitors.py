"""Who asks: whose session a request belongs to, and whether a form came from a page of it."""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from dawnline.page.answers import Answers
from dawnline.page.ask import Page
from dawnline.page.doors import Doors
from dawnline.page.pond import Pond
from dawnline.page.session import COOKIE, LASTS_S, Seal, Session, Who

_NOT_FROM_HERE: Final = Page(
    "trouble.html",
    {"said": "That form did not come from a page of this session. Open the page again and repeat what you did."},
    403,
)


class Visitors:
    """Reads and gives cookies by the clock of `doors`; where the page has an https address they go by no other way."""

    def __init__(self, seal: Seal, answers: Answers, doors: Doors) -> None:
        self._seal, self._answers, self._wall_s = seal, answers, doors.wall_s
        self._secure = (doors.settings.page.address or "").startswith("https:")

    def session(self, request: Request) -> Session | None:
        """The session of this request; None where it has none that holds."""
        return self._seal.read(request.cookies.get(COOKIE, ""), self._wall_s())

    def who(self, request: Request, pond: Pond) -> Who | None:
        """Who asks; on a page that is for this machine alone, whoever comes is a keeper."""
        session = self.session(request)
        if session is None and pond.open:
            session = self._seal.begin((), "", self._wall_s())
        return pond.who(session)

    def begin(self, response: Response, given: list[str], name: str) -> None:
        """A new session, in which these passphrases were given."""
        self.give(response, self._seal.begin(given, name, self._wall_s()).cookie)

    def give(self, response: Response, cookie: str) -> None:
        """Hand out a cookie with this answer."""
        response.set_cookie(COOKIE, cookie, max_age=LASTS_S, httponly=True, samesite="strict", secure=self._secure)

    def form_token(self, cookie: str) -> str:
        """What each form of this session carries."""
        return self._seal.form_token(cookie)

    def signed_out(self, request: Request, form: dict[str, str], pond: Pond) -> Response:
        """What is answered to somebody who is not signed in; what was typed into a form of ours is not lost."""
        if form and _ours(request):
            return self._once_more(request, form, pond, None)
        return RedirectResponse(f"{pond.base}/sign-in", 303)

    def not_from_here(
        self, request: Request, cookie: str, form: dict[str, str], pond: Pond | None, who: Who | None
    ) -> Response | None:
        """What is answered to a form that came from no page of this session; None where it did."""
        ours = _ours(request)
        if self._seal.is_form_token(cookie, form.get("token", "")) and ours is not False:
            return None
        if ours and form and pond is not None:
            return self._once_more(request, form, pond, who)
        return self._answers.response(_NOT_FROM_HERE, pond, who)

    def _once_more(self, request: Request, form: dict[str, str], pond: Pond, who: Who | None) -> Response:
        """The session ended while the form was open: what was typed is kept, and sent by hand with the token of now."""
        why = "this form was opened in a session that has ended."
        if who is None:
            why = "you are no longer signed in. Sign in on another tab, then come back here."
        typed = {name: value for name, value in form.items() if name != "token"}
        data = {"why": why, "typed": typed, "path": request.url.path}
        response = self._answers.response(Page("once_more.html", data, 403), pond, who)
        if who is not None:
            self.give(response, who.cookie)
        return response


def _ours(request: Request) -> bool | None:
    """Whether the browser says that a form came from a page of this address; None where it says nothing."""
    origin = request.headers.get("origin")
    return None if origin is None else urlsplit(origin).netloc == request.headers.get("host")
