"""One pond's part of the page: what it is given, where its pages stand, and who may see them."""

from __future__ import annotations

from typing import Any

from dawnline.electrode.walk import Walk
from dawnline.errors import SettingsError
from dawnline.page.doors import Doors
from dawnline.page.passphrase import is_hash, matches
from dawnline.page.session import Role, Session, Who, mark
from dawnline.settings import Settings


class Pond:
    """`base` is what stands before each path of its own pages: "" where the page shows one pond."""

    def __init__(self, doors: Doors, base: str) -> None:
        """Raises SettingsError where a passphrase is none."""
        self.doors, self.base = doors, base
        self.open = doors.settings.page.passphrase is None
        self.walks: dict[str, Walk] = {}
        self._hashes = _hashes(doors.settings)

    @property
    def name(self) -> str:
        """What its keeper calls it."""
        return self.doors.settings.pond.name

    @property
    def names(self) -> list[str]:
        """Who may stand beside an act."""
        return [person.name for person in self.doors.settings.people]

    def who(self, session: Session | None) -> Who | None:
        """What a browser may do here; None where it may not even look. Where nothing is locked it is a keeper's."""
        if session is None:
            return None
        if self.open:
            return Who("keeper", session.name, session.cookie)
        for role, kept in self._hashes.items():
            if mark(kept) in session.given:
                return Who(role, session.name, session.cookie)
        return None

    def opened_by(self, passphrase: str) -> str | None:
        """The mark of a passphrase that is one of this pond's; None for one that is not. Takes as long either way."""
        found: str | None = None
        for kept in self._hashes.values():
            if matches(passphrase[:1000], kept) and found is None:
                found = mark(kept)
        return found


def _hashes(settings: Settings) -> dict[Role, str]:
    """The passphrase's hash by role, the keeper's first. Raises SettingsError."""
    page, found = settings.page, {}
    secrets: tuple[tuple[Role, Any], ...] = (("keeper", page.passphrase), ("guest", page.guest_passphrase))
    for role, secret in secrets:
        if secret is None:
            continue
        kept = secret.reveal().strip()
        if not is_hash(kept):
            raise SettingsError(
                f"secret {secret.reference}: found no hash, expected the line that `dawnline page --hash` prints"
            )
        found[role] = kept
    return found
