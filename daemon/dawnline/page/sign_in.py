"""Signing in, and out again."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from dawnline.page import plain
from dawnline.page.answers import Answers
from dawnline.page.ask import Page
from dawnline.page.attempts import Attempts
from dawnline.page.pond import Pond
from dawnline.page.session import COOKIE
from dawnline.page.visitors import Visitors


class SignIn:
    """`monotonic_s` is a clock that nobody sets [s]: wrong attempts have to wait by it."""

    def __init__(self, visitors: Visitors, answers: Answers, monotonic_s: Callable[[], float]) -> None:
        self._visitors, self._answers, self._monotonic_s = visitors, answers, monotonic_s
        self._attempts, self._one_at_a_time = Attempts(), asyncio.Lock()
        # Always the same thread: the C library keeps the memory of a hash for each thread that ever made one.
        self._hasher = ThreadPoolExecutor(1, "hasher")

    async def sign_in(self, request: Request, pond: Pond) -> Response:
        """The form, and what is answered to a passphrase."""

        def asked(trouble: str, status: int) -> Response:
            page = Page("sign_in.html", {"names": pond.names, "trouble": trouble}, status)
            return self._answers.response(page, pond)

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
        name, before = form.get("name", ""), self._visitors.session(request)
        marks = [each for each in before.given if each != given] if before is not None else []
        response = RedirectResponse(f"{pond.base}/", 303)
        self._visitors.begin(response, [*marks, given], name if name in pond.names else "")
        return response

    async def sign_out(self, request: Request, pond: Pond | None) -> Response:
        """Take the cookie back; `pond` is that of a page that shows one."""
        session, form = self._visitors.session(request), await plain.form(request)
        who = None if pond is None else pond.who(session)
        if session is not None and (refused := self._visitors.not_from_here(request, session.cookie, form, pond, who)):
            return refused
        response = RedirectResponse("/" if pond is None else "/sign-in", 303)
        response.delete_cookie(COOKIE)
        return response
