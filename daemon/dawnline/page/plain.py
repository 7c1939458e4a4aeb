"""What needs no pond: the style sheet and the script, the fields of a form, and answers to what went wrong."""

from __future__ import annotations

from importlib.resources import files
from typing import Any, Final
from urllib.parse import parse_qsl

from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response

from dawnline.page.guard import TooLarge
from dawnline.review.look import FIGURE_STYLE
from dawnline.review.report_style import REPORT_STYLE

_KEPT: Final = {"Cache-Control": "max-age=3600"}


async def style(_request: Request) -> Response:
    """The style sheet of figures, report and page."""
    text = "\n".join((FIGURE_STYLE, REPORT_STYLE, _static("page.css")))
    return Response(text, media_type="text/css", headers=_KEPT)


async def script(_request: Request) -> Response:
    """The page's script."""
    return Response(_static("page.js"), media_type="text/javascript", headers=_KEPT)


async def form(request: Request) -> dict[str, str]:
    """The fields of a form; what is not sent as one has none."""
    body = await request.body()
    if not request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        return {}
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=100)
    except ValueError:
        return {}
    return {name: value.strip() for name, value in pairs}


async def _crashed(_request: Request, error: Exception) -> Response:
    return PlainTextResponse(f"A fault of dawnline itself: {type(error).__name__}. The watch goes on.\n", 500)


async def _large(_request: Request, _error: Exception) -> Response:
    return PlainTextResponse("That is more than any form here holds.\n", 413)


async def _late(_request: Request, _error: Exception) -> Response:
    return PlainTextResponse("That took too long to arrive.\n", 408)


async def _gone(_request: Request, _error: Exception) -> Response:
    return Response(status_code=400)  # nobody hears it: they hung up in the midst of a form


HANDLERS: Final[dict[Any, Any]] = {500: _crashed, TooLarge: _large, TimeoutError: _late, ClientDisconnect: _gone}


def _static(name: str) -> str:
    return files("dawnline.page").joinpath("static", name).read_text(encoding="utf-8")
