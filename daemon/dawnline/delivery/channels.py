"""From a letter to the one channel that can carry it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TextIO

import structlog

from dawnline.delivery.ack_link import Links
from dawnline.delivery.addresses import Address, resolve_address
from dawnline.delivery.console import send_console
from dawnline.delivery.later import LaterError
from dawnline.delivery.report import Draw, Report
from dawnline.delivery.settings import MailSettings
from dawnline.errors import DeliveryError, SettingsError
from dawnline.letter import Letter, Marks

_log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Channels:
    """Sends one letter, on the calling thread. `folder` is where the configuration lies, for "file:" secrets;
    `links` writes the link by which an alarm can be acknowledged, `draw` the report of a week, `marks` what a repeat
    says of itself.

    The libraries for mail, web hooks and push are loaded with the first letter that needs them.
    """

    mail: MailSettings | None
    folder: Path
    console: TextIO
    links: Links | None = None
    draw: Draw | None = None
    marks: Marks | None = None

    def send(self, letter: Letter) -> str:
        """How the letter was taken, in a few words. Raises DeliveryError where it was not."""
        try:
            address = resolve_address(letter.address, self.folder)
            letter = letter if self.marks is None else self.marks.on(letter)
            report = self._report(letter)
            if report is not None:
                letter = replace(letter, text=f"{letter.text}\n\n{report.text}")
            return self._send(self._linked(letter), address, report)
        except SettingsError as error:  # a secret that is not to be had: the keeper can mend it
            raise LaterError(str(error)) from None

    def _linked(self, letter: Letter) -> Letter:
        """The letter with its link; one without a link is better than none at all."""
        if self.links is None:
            return letter
        try:
            link = self.links.to_answer(letter)
        except SettingsError as error:
            _log.warning("message-without-link", why=str(error))
            return letter
        if not link:
            return letter
        return replace(letter, text=f"{letter.text}\n\n{link}")

    def _report(self, letter: Letter) -> Report | None:
        return None if letter.week is None or self.draw is None else self.draw(*letter.week)

    def _send(self, letter: Letter, address: Address, report: Report | None) -> str:
        match address.channel:
            case "console":
                return send_console(letter, self.console)
            case "mail":
                return self._send_mail(letter, address.target, report)
            case "webhook":
                from dawnline.delivery.webhook import send_webhook

                return send_webhook(letter, address.target)
            case "push":
                from dawnline.delivery.push import send_push

                return send_push(letter, address.target)

    def _send_mail(self, letter: Letter, to: str, report: Report | None) -> str:
        if self.mail is None:
            raise DeliveryError("mail: the configuration has no [mail] section with a server to send by", retry=False)
        from dawnline.delivery.mail import send_mail

        return send_mail(letter, to, self.mail, report)
