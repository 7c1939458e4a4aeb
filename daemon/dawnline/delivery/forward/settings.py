"""`[influxdb]`: where readings are copied to."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from dawnline.broker import CaFile
from dawnline.delivery.addresses import web_parts
from dawnline.secret import SecretField


def _address(url: str) -> str:
    parts = web_parts(url)
    if parts is None or parts.query or parts.fragment:
        raise ValueError('expected the address of the server, such as "https://metrics.example.org:8086"')
    if parts.username is not None or parts.password is not None:
        raise ValueError("expected no password within the address: it belongs into `token`")
    return url.rstrip("/")


class InfluxSettings(BaseModel):
    """The server and where in it. `token` is a secret; `ca_file` is the authority that signed the server's certificate,
    where it is not one the system trusts.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    url: Annotated[str, AfterValidator(_address)]
    bucket: Annotated[str, Field(min_length=1, max_length=200)]
    org: Annotated[str, Field(max_length=200)] = ""
    token: SecretField | None = None
    ca_file: CaFile = None

    @model_validator(mode="after")
    def _belongs_together(self) -> Self:
        if self.ca_file is not None and not self.url.startswith("https:"):
            raise ValueError("`ca_file` is of no use with an http address: write https, or take `ca_file` away")
        return self
