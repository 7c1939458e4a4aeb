"""`[[people]]`, `[mail]` and `[heartbeat]`: who is told, where and at which hours; where a sign of life goes."""

from __future__ import annotations

from datetime import date, timedelta, tzinfo
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator, model_validator

from dawnline.delivery.addresses import check_address, is_reference, parse_address
from dawnline.duration import DAY_MS, MINUTE_MS, SECOND_MS, Duration, TimeOfDay, local_ms, minute_of_day
from dawnline.event import Priority
from dawnline.people.person import AFTER_MS, REPEAT_MS, Person
from dawnline.secret import SecretField


def _quiet(text: str) -> tuple[int, int] | None:
    """From when until when [minutes after midnight]; None for "none". Raises ValueError."""
    if text == "none":
        return None
    begin, _, end = text.partition("-")
    try:
        hours = minute_of_day(begin), minute_of_day(end)
    except ValueError:
        hours = 0, 0
    if hours[0] == hours[1]:
        raise ValueError('expected two times of day, such as "22:00-07:00", or "none"')
    return hours


def _hours(text: str) -> str:
    _quiet(text)
    return text


class PersonSettings(BaseModel):
    """One person.

    An address is "console:", "mailto:ada@example.org", "https://..." (a web hook), any other URL that the
    notification library knows (phone push, SMS gateways), or "env:NAME" / "file:PATH" holding one of these.
    `priority` is the lowest that reaches them; in their `quiet` hours only what `wakes` them does, the rest waits for
    the morning. Those of a higher `order` are told of what is high when nobody has acknowledged it `after` a while.
    `repeat` is the first pause before a reminder. `from` and `until` bound the days for which they are told at all;
    who has the pond for some days gets the plain card, and `card` says otherwise. `morning` asks for a word a day.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^/\x00-\x1f]+$")]
    addresses: Annotated[tuple[str, ...], Field(min_length=1)]
    priority: Priority = "low"
    quiet: Annotated[str, AfterValidator(_hours)] = "22:00-07:00"
    wakes: Priority = "high"
    order: Annotated[int, Field(ge=1, le=9)] = 1
    after: Annotated[Duration, Field(ge=MINUTE_MS, le=DAY_MS)] = AFTER_MS
    repeat: Annotated[Duration, Field(ge=MINUTE_MS, le=DAY_MS)] = REPEAT_MS
    from_: Annotated[date | None, Field(alias="from")] = None
    until: date | None = None
    card: bool | None = None
    telephone: Annotated[str, Field(max_length=40, pattern=r"^[0-9+ ()./-]*$")] = ""
    morning: TimeOfDay | None = None

    @field_validator("addresses")
    @classmethod
    def _addresses_can_be_used(cls, addresses: tuple[str, ...]) -> tuple[str, ...]:
        for address in addresses:
            check_address(address)
        return addresses

    @model_validator(mode="after")
    def _days_in_order(self) -> Self:
        if self.from_ is not None and self.until is not None and self.until < self.from_:
            raise ValueError("`until` lies before `from`: expected the last day, which still counts")
        return self

    def in_force(self, zone: tzinfo) -> Person:
        """This person as the fold knows them; days and hours are those of the pond's `zone`."""
        return Person(
            self.name,
            self.addresses,
            self.priority,
            _quiet(self.quiet),
            self.wakes,
            self.order,
            self.after,
            self.repeat,
            None if self.from_ is None else local_ms(self.from_, zone),
            None if self.until is None else local_ms(self.until + timedelta(days=1), zone),
            self.from_ is not None if self.card is None else self.card,
            self.telephone,
            None if self.morning is None else minute_of_day(self.morning),
        )


class MailSettings(BaseModel):
    """The mail server that takes our letters."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    host: str
    port: Annotated[int, Field(ge=1, le=65535)] = 587
    security: Literal["starttls", "tls", "none"] = "starttls"
    username: str | None = None
    password: SecretField | None = None
    sender: str

    @model_validator(mode="after")
    def _login_is_whole(self) -> Self:
        if (self.username is None) != (self.password is None):
            raise ValueError("`username` and `password` go together: give both or neither")
        return self

    @field_validator("sender")
    @classmethod
    def _sender_is_a_mailbox(cls, sender: str) -> str:
        try:
            parse_address(f"mailto:{sender}")
        except ValueError:
            raise ValueError('expected one plain mailbox, "pond@example.org"') from None
        return sender


def _web(text: str) -> str:
    check_address(text)
    if not is_reference(text) and parse_address(text).channel != "webhook":
        raise ValueError('expected "https://...", "http://...", or "env:NAME" / "file:PATH" holding one of these')
    return text


class HeartbeatSettings(BaseModel):
    """`[heartbeat]`: where it goes, and how often. An address that holds a token is better kept in a file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    url: Annotated[str, AfterValidator(_web)]
    every: Annotated[Duration, Field(ge=10 * SECOND_MS, le=DAY_MS)] = 5 * MINUTE_MS
