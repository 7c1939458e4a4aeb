"""How a view becomes an answer: its template filled in, or the way to another page with what is said on top of it."""

from __future__ import annotations

from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dawnline import __version__
from dawnline.page.ask import Go
from dawnline.page.pond import Pond
from dawnline.page.session import Seal, Session, Who
from dawnline.page.view import Answer
from dawnline.page.words import FILTERS
from dawnline.quantity import degrees

MOST_SAID: Final = 100  # sessions for which something waits to be said


class Answers:
    """`only` is the pond of a page that shows one; where there are many it is None."""

    def __init__(self, seal: Seal, only: Pond | None) -> None:
        self._seal, self._only = seal, only
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

    def response(
        self, answer: Answer, pond: Pond | None, who: Who | None = None, session: Session | None = None
    ) -> Response:
        """What goes out; `who` is signed in at this pond, `session` on a page that is of none."""
        if isinstance(answer, Response):
            return answer
        cookie = who.cookie if who is not None else session.cookie if session is not None else None
        pond = pond or self._only
        base = "" if pond is None else pond.base
        if isinstance(answer, Go):
            if answer.said and cookie is not None:
                self._said[cookie] = (answer.said, answer.well)
                for old in list(self._said)[:-MOST_SAID]:
                    del self._said[old]
            return RedirectResponse(base + answer.to, 303)
        said, well = self._said.pop(cookie, ("", True)) if cookie is not None else ("", True)
        shared = {
            "pond": "Ponds" if pond is None else pond.name, "base": base,
            "many": self._only is None and pond is not None, "who": who, "said_on_top": said, "said_well": well,
            "leaves": _leaves(pond, who, session), "version": __version__,
            "token": "" if cookie is None else self._seal.form_token(cookie),
        }  # fmt: skip
        text = self._templates.get_template(answer.template).render({**shared, **answer.data})
        return HTMLResponse(degrees(text), answer.status)


def _leaves(pond: Pond | None, who: Who | None, session: Session | None) -> str:
    """Who can sign out, as the button says it; "" where nobody is signed in."""
    if who is not None and pond is not None and not pond.open:
        return who.name or who.role
    return (session.name or "signed in") if session is not None and session.given else ""
