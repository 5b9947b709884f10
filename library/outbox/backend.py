"""Django's mail goes into the outbox, in the same transaction as its cause."""

from __future__ import annotations

import uuid

from django.core.mail.backends.base import BaseEmailBackend

from library.outbox.models import Message


class OutboxBackend(BaseEmailBackend):
    """Writes each mail as a waiting row; nothing is sent here."""

    def send_messages(self, email_messages) -> int:
        rows = [
            Message(
                message_key=f"mail:{uuid.uuid4()}",
                to=recipient,
                subject=mail.subject[:250],
                text=mail.body,
                html=next(
                    (
                        a.content
                        for a in getattr(mail, "alternatives", [])
                        if a.mimetype == "text/html"
                    ),
                    "",
                ),
            )
            for mail in email_messages
            for recipient in mail.recipients()
        ]
        return len(Message.objects.bulk_create(rows))
