"""Handing one mail to the mail server, and what its answer means."""

from __future__ import annotations

import enum
import hashlib
import smtplib
from email.utils import parseaddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection

from library.outbox.models import Message


class Outcome(enum.Enum):
    SENT = "sent"
    DROPPED = "dropped"  # no longer wanted
    FAILED = "failed"  # the server refused it for good
    DEFERRED = "deferred"  # this mail has to wait; others may pass
    LATER = "later"  # its reader is not to be disturbed now
    UNREACHABLE = "unreachable"  # no mail gets through just now
    TAKEN = "taken"  # somebody else has it, or it is gone


def send(message: Message, address: str) -> None:
    """Talk to the mail server; raises what it answered. Never call it in a transaction."""
    get_connection(settings.OUTBOX_DELIVERY_BACKEND).send_messages([letter(message, address)])


def letter(message: Message, address: str) -> EmailMultiAlternatives:
    """The mail as it goes over the wire."""
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.text,
        from_email=message.sender or None,
        to=[address],
        # RFC 3834: asks holiday answering machines not to answer.
        headers={"Auto-Submitted": "auto-generated"}
        | message.headers
        | {"Message-ID": message_id(message.message_key)},
    )
    if message.html:
        mail.attach_alternative(message.html, "text/html")
    return mail


def message_id(message_key: str) -> str:
    """The same for every attempt, so that a mailbox can tell a repeat from a second mail."""
    digest = hashlib.sha256(message_key.encode()).hexdigest()[:40]
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{digest}@{domain}>"


def meaning(error: Exception) -> Outcome:
    """Whether a failure is for good (FAILED), for this mail for now, or for all mail for now.

    A server that does not know our password or our sender refuses the library, not this mail:
    somebody will mend the settings, so the mail waits.
    """
    match error:
        case smtplib.SMTPRecipientsRefused():
            codes = [code for code, _answer in error.recipients.values()]
            return Outcome.FAILED if min(codes) >= 500 else Outcome.DEFERRED
        case smtplib.SMTPDataError():
            return Outcome.FAILED if error.smtp_code >= 500 else Outcome.DEFERRED
        case smtplib.SMTPException() | OSError():
            return Outcome.UNREACHABLE
        case ValueError():  # a header that cannot be written, an address that is none
            return Outcome.FAILED
    return Outcome.DEFERRED
