"""`[page]`: where the page listens, and who may see it."""

from __future__ import annotations

from ipaddress import ip_address
from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from dawnline.delivery.addresses import web_parts
from dawnline.secret import SecretField

PORT = 8078  # not assigned in the IANA service name registry, from memory


def _ip(text: str) -> str:
    try:
        return str(ip_address(text))
    except ValueError:
        raise ValueError('expected an IP address of this machine, such as "127.0.0.1" or "0.0.0.0"') from None


def _address(url: str) -> str:
    parts = web_parts(url)
    if parts is None or parts.query or parts.fragment or parts.path.strip("/"):
        raise ValueError('expected the address that people type, such as "https://pond.example.org"')
    return url.rstrip("/")


class PageSettings(BaseModel):
    """`listen` and `port` are where the process listens; `address` is what people type, when it is another one (a name,
    a proxy with TLS): links in messages begin with it.

    `link_key` names a secret of at least 16 characters; with it and `address` a message about an alarm holds a link by
    which it can be acknowledged. `passphrase` and `guest_passphrase` name secrets that hold what `dawnline page --hash`
    prints: who knows the first may act, who knows the second may look. Without a passphrase the page is for this
    machine alone.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    listen: Annotated[str, AfterValidator(_ip)] = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = PORT
    address: Annotated[str, AfterValidator(_address)] | None = None
    passphrase: SecretField | None = None
    guest_passphrase: SecretField | None = None
    link_key: SecretField | None = None

    @property
    def closed(self) -> bool:
        """Whether only this machine can reach it."""
        return ip_address(self.listen).is_loopback and self.address is None

    @model_validator(mode="after")
    def _closed_by_default(self) -> Self:
        if not self.closed and self.passphrase is None:
            raise ValueError(
                "others can reach this page and no `passphrase` is set: make one with `dawnline page --hash` "
                'and name its file, such as passphrase = "file:page-passphrase"'
            )
        if self.guest_passphrase is not None and self.passphrase is None:
            raise ValueError("`guest_passphrase` needs `passphrase` beside it")
        if self.link_key is not None and self.address is None:
            raise ValueError("`link_key` needs `address` beside it: links in messages begin with that")
        return self
