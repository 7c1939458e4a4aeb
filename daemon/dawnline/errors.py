"""Errors, by who must act on them.

    DawnlineError
      SettingsError   the keeper: something in a file or a call is wrong; the text names place, found, expected
      InputError      the keeper: a row, a line or an act is wrong; the rest goes on
      StoreError      a start ends with it; a running core holds what the store refuses, and tries again
      DeliveryError   the outbox: `retry` says whether trying again can help

Bad data is a value (a flag, a counted refusal), not an exception.
"""

from __future__ import annotations


class DawnlineError(Exception):
    """Whatever dawnline raises on purpose; its text is fit to be shown to a keeper."""


class SettingsError(DawnlineError):
    """A configuration or a call that the keeper must mend."""


class InputError(DawnlineError):
    """One row, line or act that cannot be used."""


class StoreError(DawnlineError):
    """The store cannot be read or written."""


class DamagedStoreError(StoreError):
    """A store whose file is damaged: it can be set aside."""


class UnfitError(StoreError):
    """A value that no store can hold; the rest can be stored without it."""


class DeliveryError(DawnlineError):
    """A notice that was not delivered; `retry` is false where no repetition can help.

    `letter_only` says that the other side was reached and refused this one: others to the same address may go through.
    """

    def __init__(self, text: str, *, retry: bool, letter_only: bool = False) -> None:
        super().__init__(text)
        self.retry = retry
        self.letter_only = letter_only
