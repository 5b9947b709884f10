"""Django's mail goes into the outbox, in the same transaction as its cause."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction

from library.outbox.services import queue_mail


class OutboxBackend(BaseEmailBackend):
    """Writes each mail as waiting rows, one for each recipient; nothing is sent here."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        with transaction.atomic():
            for mail in email_messages:
                _queue(mail)
        return len(email_messages)


def _queue(mail: EmailMessage) -> None:
    if mail.attachments:
        raise ValueError("The outbox carries text and HTML only; send a link, not a file.")
    key = f"mail:{uuid.uuid4()}"
    for number, recipient in enumerate(dict.fromkeys(mail.recipients())):
        queue_mail(
            to=recipient,
            subject=str(mail.subject),
            text="" if mail.content_subtype == "html" else str(mail.body),
            html=_html_of(mail),
            message_key=f"{key}:{number}",
            sender=mail.from_email,
            headers=_headers_of(mail),
        )


def _html_of(mail: EmailMessage) -> str:
    if mail.content_subtype == "html":
        return str(mail.body)
    alternatives = getattr(mail, "alternatives", [])
    return next((str(a.content) for a in alternatives if a.mimetype == "text/html"), "")


def _headers_of(mail: EmailMessage) -> dict[str, str]:
    headers = {str(name): str(value) for name, value in mail.extra_headers.items()}
    if mail.reply_to:
        headers.setdefault("Reply-To", ", ".join(map(str, mail.reply_to)))
    return headers
