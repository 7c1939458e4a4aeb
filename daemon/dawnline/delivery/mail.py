"""Letters by mail: the reply codes of the server decide whether to try again (RFC 5321, 4.2.1)."""

from __future__ import annotations

import hashlib
import smtplib
import ssl
from datetime import UTC, datetime
from email.message import EmailMessage
from email.utils import format_datetime
from typing import Any

from dawnline.delivery.later import LaterError
from dawnline.delivery.report import Report
from dawnline.delivery.settings import MailSettings
from dawnline.errors import DeliveryError
from dawnline.letter import Letter, one_line
from dawnline.secret import veiled

_HEARD = 80  # characters of the server's words
STEP_S = 10.0  # connect, and each reply; the lane bounds the whole
# RFC 4954, 4.5 and 6: authentication required, too weak, failed, to be encrypted first. A person must act.
_KEEPER_CODES = frozenset({530, 534, 535, 538})


def send_mail(letter: Letter, to: str, mail: MailSettings, report: Report | None = None) -> str:
    """Hand `letter`, with its report, to the mail server for the mailbox `to`.

    Raises DeliveryError: with retry for a reply 4xx, a lost connection or a time-out; with retry, slowly, for
    a login or a certificate that is refused, since the keeper can mend it; without retry for any other 5xx.
    SettingsError where the password is not to be had.
    """
    post = message(letter, to, mail.sender, report)
    password = mail.password.reveal() if mail.password else ""
    try:
        server = _connect(mail)
        try:
            _log_in(server, mail, password)
            server.send_message(post, from_addr=mail.sender, to_addrs=[to])
        finally:
            _leave(server)
    except (smtplib.SMTPException, OSError, ValueError) as error:
        raise _trouble(error, password, f"\0{mail.username}\0{password}") from None
    code, said = server.heard
    return f"mail: taken by the server ({code} {one_line(said.decode('utf-8', 'replace'))[:_HEARD].strip()})"


def message(letter: Letter, to: str, sender: str, report: Report | None = None) -> EmailMessage:
    """The mail of a letter. Its Message-ID follows from the letter's key: a repeat is known for one.

    Those of one incident are one thread (RFC 5322, 3.6.4): all but the first refer to the first.
    """
    post = EmailMessage()
    post["From"] = sender
    post["To"] = to
    post["Subject"] = letter.subject_to_send.replace("=?", "= ?")  # would read as an encoded word (RFC 2047)
    post["Date"] = format_datetime(datetime.fromtimestamp(letter.at / 1000, UTC))
    first = _message_id(f"{letter.thread}/{letter.person}/{letter.address}", sender)
    if letter.thread and letter.opens:
        post["Message-ID"] = first
    else:
        post["Message-ID"] = _message_id(letter.key, sender)
    if not letter.opens:
        post["In-Reply-To"] = post["References"] = first
    post["Auto-Submitted"] = "auto-generated"  # RFC 3834: no holiday replies, please
    if letter.priority == "high":
        post["Importance"] = "high"  # RFC 4021, 2.1.56
    # 8-bit lines need a server that offers them; quoted-printable passes everywhere and stays readable.
    text = letter.text_to_send + "\n"
    post.set_content(text, cte=None if text.isascii() else "quoted-printable")
    if report is not None and report.page:
        # As bytes: opened in a browser, which finds the encoding in the file; no mail program shows it half.
        charset = {"charset": "utf-8"}  # a program that shows it inside the mail does not read its head
        post.add_attachment(report.page, maintype="text", subtype="html", filename=report.name, params=charset)
    return post


def _message_id(name: str, sender: str) -> str:
    return f"<{hashlib.sha256(name.encode('utf-8', 'replace')).hexdigest()[:40]}@{sender.rpartition('@')[2]}>"


class _Plain(smtplib.SMTP):
    """Keeps what the server said when it took the letter."""

    heard: tuple[int, bytes] = (0, b"")

    def data(self, msg: Any) -> tuple[int, bytes]:
        self.heard = super().data(msg)
        return self.heard


class _Secure(_Plain, smtplib.SMTP_SSL):
    """The same, encrypted from the first byte."""


def _connect(mail: MailSettings) -> _Plain:
    if mail.security == "tls":
        return _Secure(mail.host, mail.port, timeout=STEP_S, context=ssl.create_default_context())
    return _Plain(mail.host, mail.port, timeout=STEP_S)


def _log_in(server: smtplib.SMTP, mail: MailSettings, password: str) -> None:
    if mail.security == "starttls":
        try:
            server.starttls(context=ssl.create_default_context())
        except smtplib.SMTPNotSupportedError:
            raise LaterError(
                f"mail: {mail.host} offers no STARTTLS on port {mail.port}; "
                'set `security` to "tls" or "none", or another port'
            ) from None
    if mail.username is None:
        return
    try:
        server.login(mail.username, password)
    except smtplib.SMTPNotSupportedError:
        raise LaterError(f"mail: {mail.host} takes no login here; remove `username` or change `security`") from None


def _leave(server: smtplib.SMTP) -> None:
    try:
        server.quit()
    except (smtplib.SMTPException, OSError):
        server.close()


def _trouble(error: Exception, *secrets: str) -> DeliveryError:
    if isinstance(error, ssl.SSLError) and not isinstance(error, ssl.SSLEOFError | ssl.SSLZeroReturnError):
        return LaterError(f"mail: the server's certificate or TLS was refused ({error}); see `security`")
    code, said = _reply(error)
    text = f"mail: {code} {one_line(said)}".strip() if code else f"mail: no answer ({error or type(error).__name__})"
    text = veiled(text, *secrets)
    greeting = isinstance(error, smtplib.SMTPConnectError | smtplib.SMTPHeloError)
    if code in _KEEPER_CODES or (greeting and code >= 500):  # about us or the server, not about this letter
        return LaterError(text)
    if code >= 500 or isinstance(error, ValueError | smtplib.SMTPNotSupportedError):
        return DeliveryError(text, retry=False)
    about_us = code in (0, 421) or greeting  # RFC 5321, 4.2.1: 421 closes the channel, whatever the letter
    return DeliveryError(text, retry=True, letter_only=not about_us)


def _reply(error: Exception) -> tuple[int, str]:
    """The server's reply code and words, or 0 where it gave none."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return _words(*next(iter(error.recipients.values())))
    if isinstance(error, smtplib.SMTPResponseException):
        return _words(error.smtp_code, error.smtp_error)
    return 0, ""


def _words(code: int, said: bytes | str) -> tuple[int, str]:
    return max(code, 0), said.decode("utf-8", "replace") if isinstance(said, bytes) else said
