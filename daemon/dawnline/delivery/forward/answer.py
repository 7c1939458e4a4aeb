"""What an answer of the server means for the rows that were sent."""

from __future__ import annotations

from enum import Enum, auto

from dawnline.delivery.later import retry_after_s


class Kind(Enum):
    """What to do next."""

    LATER = auto()  # the same rows again, after a wait
    SETUP = auto()  # address, token, bucket or certificate: a person must mend it; nothing is dropped
    TOO_LARGE = auto()  # fewer rows at once
    BAD_ROW = auto()  # at least one of these rows is refused for what it is


_KINDS = {400: Kind.BAD_ROW, 422: Kind.BAD_ROW, 413: Kind.TOO_LARGE, 429: Kind.LATER, 408: Kind.LATER}


class AnswerError(Exception):
    """The server did not take the rows. `broken`: the connection is gone, and perhaps the server's last seconds."""

    def __init__(self, kind: Kind, text: str, *, wait_s: float | None = None, broken: bool = False) -> None:
        super().__init__(text)
        self.kind, self.text, self.wait_s, self.broken = kind, text, wait_s, broken


def refusal(status: int, text: str, after: str | None = None, date: str | None = None) -> AnswerError:
    """An answer other than 2xx.

    400 and 422 speak of the content, 413 of its size, 408, 429 and 5xx of the moment (RFC 9110 15.5, 15.6; RFC 6585 4);
    whatever else there is (401, 403, 404, a redirect) a person must look at.

    >>> refusal(503, "busy", after="30").kind, refusal(503, "busy", after="30").wait_s
    (<Kind.LATER: 1>, 30.0)
    >>> refusal(401, "who are you").kind
    <Kind.SETUP: 2>
    """
    kind = _KINDS.get(status, Kind.LATER if status >= 500 else Kind.SETUP)
    return AnswerError(kind, f"{status} {text}".strip()[:300], wait_s=retry_after_s(after, date))
