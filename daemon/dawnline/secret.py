"""Secrets are named in the configuration, never written there: "env:NAME" or "file:PATH"."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, ValidationInfo

from dawnline.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Secret:
    """Where a secret is found; its text appears only where `reveal` is called, never in a repr or a log."""

    reference: str
    folder: Path

    def reveal(self) -> str:
        """The secret itself, without a trailing newline. Raises SettingsError where it is not to be had."""
        how, _, where = self.reference.partition(":")
        if how == "env":
            if where not in os.environ:
                raise SettingsError(f"secret {self.reference}: the environment has no variable {where}; set it")
            return os.environ[where]
        path = self.folder / where
        try:
            return path.read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            raise SettingsError(f"secret {self.reference}: cannot read {path} ({error})") from None


def _parse(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Secret):
        return value
    if not isinstance(value, str) or not value.startswith(("env:", "file:")) or value.endswith(":"):
        raise ValueError('expected "env:NAME" or "file:PATH": a secret is never written into the configuration')
    return Secret(value, (info.context or {}).get("folder", Path()))


SecretField = Annotated[Secret, BeforeValidator(_parse)]
"""A settings field that names a secret."""
