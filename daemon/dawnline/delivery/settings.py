"""`[[people]]` and `[mail]`: who is told, at which addresses, from which priority on."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from dawnline.delivery.addresses import check_address, parse_address
from dawnline.event import Priority
from dawnline.secret import SecretField


class PersonSettings(BaseModel):
    """One person.

    An address is "console:", "mailto:ada@example.org", "https://..." (a web hook), any other URL that the
    notification library knows (phone push, SMS gateways), or "env:NAME" / "file:PATH" holding one of these.
    `priority` is the lowest that reaches them.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(min_length=1, max_length=80)]
    addresses: Annotated[tuple[str, ...], Field(min_length=1)]
    priority: Priority = "low"

    @field_validator("addresses")
    @classmethod
    def _addresses_can_be_used(cls, addresses: tuple[str, ...]) -> tuple[str, ...]:
        for address in addresses:
            check_address(address)
        return addresses


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
