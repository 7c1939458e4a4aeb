"""When: the pauses between messages, as rules of thumb of our own (common practice, no source)."""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.people.incident import Contact
from dawnline.people.words import Occasion

GATHERS_MS: Final = 10 * MINUTE_MS  # news that ask nothing of anybody wait so long after the last message
FLOOD: Final = 4  # messages of one incident within an hour: what is urgent comes once an hour from here on
FLAPPING: Final = ((5, 3 * HOUR_MS), (3, HOUR_MS), (0, GATHERS_MS))  # so many within six hours: the pause before news
WIDEST_MS: Final = 4 * HOUR_MS
REPEATS: Final = (0, 3, 10)  # by rank: low is never repeated
MEDIUM_MS: Final = 12 * HOUR_MS


def repeat_after(rank: int, done: int, first: int) -> int:
    """The pause [ms] before an alarm of `rank` that was repeated `done` times is repeated again; 0: no more.

    High begins with the person's own `first` pause and doubles it, up to four hours.

    >>> [repeat_after(2, n, 10 * MINUTE_MS) // MINUTE_MS for n in (0, 1, 2, 3, 4, 5, 9, 10)]
    [10, 20, 40, 80, 160, 240, 240, 0]
    >>> [repeat_after(1, n, 10 * MINUTE_MS) // MINUTE_MS for n in (0, 1, 2, 3)]
    [720, 1440, 2880, 0]
    """
    if done >= REPEATS[rank]:
        return 0
    return MEDIUM_MS << done if rank == 1 else min(first << done, max(WIDEST_MS, first))


def earliest(contact: Contact, *, urgent: bool) -> int:
    """The earliest time [ms] of the next message to a person, after those of one incident that brought news.

    What is urgent goes at once and other news after ten minutes, until it becomes a flood. Two never share a moment,
    since that is part of their keys.
    """
    recent = contact.recent
    if not recent:
        return 0
    if urgent:
        flood = len(recent) >= FLOOD and recent[-1] - recent[-FLOOD] < HOUR_MS
        return recent[-1] + (HOUR_MS if flood else 1)
    lately = sum(recent[-1] - at < 6 * HOUR_MS for at in recent)
    pause = next(pause for least, pause in FLAPPING if lately >= least)
    return max(recent[-1] + pause, contact.last_at + GATHERS_MS)


def plan_repeat(on: Occasion) -> None:
    """When this message is repeated, should nobody acknowledge; where it tells nothing new, that stays as it was."""
    contact = on.contact
    held = on.why == "morning" and 0 < contact.next_repeat <= on.at
    again = not on.new and (on.why == "repeat" or held)
    if not on.new and not again:
        return
    contact.repeats = contact.repeats + 1 if again else 0
    waiting = max((on.incident.calls(each.rank) for each in on.standing if not each.acknowledged), default=-1)
    pause = repeat_after(waiting, contact.repeats, on.person.repeat) if waiting >= 0 else 0
    contact.next_repeat = on.at + pause if pause else 0
