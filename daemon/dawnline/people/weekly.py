"""The week by mail, for those who wish it: once a week at an hour of the pond's own clock, whatever else is told.

The message only says which days it is about; the report is drawn when its letter is sent. Each week stands for itself:
none takes the place of another. Weeks are known by the moment at which they were to be sent, so that one is neither
sent twice nor left out, whenever the watch was down.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta, tzinfo
from typing import Annotated, Any, Final, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from dawnline.duration import TimeOfDay, iso, local_date, local_ms, minute_of_day
from dawnline.event import Message
from dawnline.people.person import Person
from dawnline.state import Stateful

DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
NOON: Final = 12 * 60  # minutes after midnight; from then on the day itself belongs to the week, as far as it has come
MAIL: Final = "mailto:"
SECRET: Final = ("env:", "file:")  # what it holds is known when it is used


class WeeklySettings(BaseModel):
    """`[weekly]`: on which day and at which time of the pond's clock the report goes to whom, by their names."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    to: Annotated[tuple[str, ...], Field(min_length=1)]
    on: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] = "sunday"
    at: TimeOfDay = "18:00"


def by_mail(addresses: Sequence[str]) -> tuple[str, ...]:
    """Those of a person's addresses to which a report can go; a secret one where no other is plainly a mailbox.

    >>> by_mail(["console:", "file:phone", "mailto:ada@example.org"]), by_mail(["console:", "file:ada"])
    (('mailto:ada@example.org',), ('file:ada',))
    """
    plain = tuple(each for each in addresses if each.startswith(MAIL))
    return plain or tuple(each for each in addresses if each.startswith(SECRET))


class Week(NamedTuple):
    """One report: when it is to be sent [ms], and its first and last day."""

    at: int
    first: date
    last: date


class Weekly(Stateful):
    """Which report was sent last. `done` is when that was due [ms]; 0 before the watch began."""

    KEPT = ("done",)

    def __init__(
        self, settings: WeeklySettings | None, people: Sequence[Person], pond: str, zone: tzinfo, words: Any
    ) -> None:
        self.settings = settings
        self.people = [person for person in people if settings is not None and person.name in settings.to]
        self.pond = pond
        self.zone = zone
        self.words = words
        self.done = 0
        self._next_at = 0

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`."""
        super().restore(saved)
        self._next_at = 0

    def minute(self, at: int) -> list[Message]:
        """A whole minute has passed."""
        if self.settings is None or at < self._next_at:
            return []
        week, self._next_at = self.week(at, 0), self.week(at, 1).at
        new = 0 < self.done < week.at
        self.done = max(self.done, week.at)
        hearing = [person for person in self.people if person.on_duty(at)] if new else []
        return [self._message(person, week) for person in hearing]

    def week(self, at: int, ahead: int) -> Week:
        """The last report that was due at `at` [ms], or one `ahead` weeks later."""
        assert self.settings is not None
        minute, weekday = minute_of_day(self.settings.at), DAYS.index(self.settings.on)
        today = local_date(at, self.zone)
        day = today - timedelta(days=(today.weekday() - weekday) % 7)
        if local_ms(day, self.zone, minute) > at:
            day -= timedelta(days=7)
        day += timedelta(days=7 * ahead)
        last = day if minute >= NOON else day - timedelta(days=1)
        return Week(local_ms(day, self.zone, minute), last - timedelta(days=6), last)

    def body(self, at: int) -> dict[str, Any] | None:
        """For whom it is, when it comes next and came last, as plain JSON values; None where nobody wishes it."""
        if self.settings is None:
            return None
        return {
            "to": [person.name for person in self.people],
            "next": iso(self.week(at, 1).at, self.zone),
            "last_due": iso(self.done, self.zone) if self.done else None,
        }

    def _message(self, person: Person, week: Week) -> Message:
        facts = {"pond": self.pond, "name": person.name, "first": str(week.first), "last": str(week.last)}
        return Message(
            f"weekly/low/0/weekly/{week.at}/{person.name}", week.at, person.name, by_mail(person.addresses), "weekly",
            "low", self.words["weekly_subject"].format(**facts), self.words["weekly"].format(**facts), -week.at,
            f"week/{week.first}/{week.last}", True,
        )  # fmt: skip
