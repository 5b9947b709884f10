"""One real mail to oneself, and what the mail server said to it."""

from __future__ import annotations

import smtplib
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.utils.translation import gettext as _

from accounts.models import Member

CONSOLE = "library.outbox.console.ConsoleMail"


@dataclass(frozen=True)
class MailAnswer:
    """Whether the mail was taken, in one sentence, and the server's own words."""

    taken: bool
    sentence: str
    server: str = ""


def send_test_mail(*, to: Member) -> MailAnswer:
    """Send at once, past the outbox; never call it in a transaction.

    Waits at most ``EMAIL_TIMEOUT`` seconds for each of the server's answers.
    """
    mail = EmailMessage(
        subject=_("A test from your seed library"),
        body=_(
            "This mail was sent to see whether mail arrives. It did; there is no more to do."
        ),
        to=[to.email],
        headers={"Auto-Submitted": "auto-generated"},
    )
    connection = get_connection(settings.OUTBOX_DELIVERY_BACKEND)
    try:
        heard = _send(connection, mail)
    except (smtplib.SMTPException, OSError) as error:
        return MailAnswer(False, _why(error), _said(error))
    if settings.OUTBOX_DELIVERY_BACKEND == CONSOLE:
        return MailAnswer(
            False,
            _(
                "No mail server is set: the mail was written on the server's console. Set "
                "EMAIL_URL and start again to send it."
            ),
        )
    return MailAnswer(
        True,
        _("The mail server took a mail to %(email)s. Look whether it arrives.")
        % {"email": to.email},
        heard,
    )


def _send(connection: Any, mail: EmailMessage) -> str:
    """Send it; what an SMTP server answered to the letter itself."""
    heard: list[str] = []
    connection.open()
    server = getattr(connection, "connection", None)
    if isinstance(server, smtplib.SMTP):
        hand_over = server.data

        def data(message):
            code, words = hand_over(message)
            heard.append(_words(code, words))
            return code, words

        server.data = data  # type: ignore[method-assign]
    try:
        connection.send_messages([mail])
    finally:
        connection.close()
    return " ".join(heard)


def _why(error: Exception) -> str:
    match error:
        case smtplib.SMTPAuthenticationError():
            return _("The mail server does not know this user or password. Check EMAIL_URL.")
        case smtplib.SMTPSenderRefused():
            return _(
                "The mail server does not take mail from %(sender)s. Check SOWBACK_MAIL_FROM."
            ) % {"sender": settings.DEFAULT_FROM_EMAIL}
        case smtplib.SMTPRecipientsRefused():
            return _("The mail server does not take mail to your address.")
        case smtplib.SMTPException():
            return _("The mail server did not take the mail.")
        case _:
            return _(
                "The mail server at %(host)s, port %(port)s, cannot be reached. "
                "Check EMAIL_URL."
            ) % {"host": settings.EMAIL_HOST, "port": settings.EMAIL_PORT}


def _said(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return " ".join(_words(*answer) for answer in error.recipients.values())
    if isinstance(error, smtplib.SMTPResponseException):
        return _words(error.smtp_code, error.smtp_error)
    return str(error)


def _words(code: int, words: bytes | str) -> str:
    text = words.decode("utf-8", "replace") if isinstance(words, bytes) else words
    return f"{code} {text}"[:500]
