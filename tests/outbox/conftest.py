"""Mail to send."""

from __future__ import annotations

import pytest

from library.outbox.services import queue_mail
from tests.mailbox import free_port, mailbox

__all__ = ["free_port", "mailbox", "write"]


@pytest.fixture
def write(db):
    """``write("a", to=...)`` queues a mail with the key ``a``."""

    def queue(key: str = "a", **fields):
        words = {"to": "wren@example.org", "subject": "Due", "text": "Bring seed."} | fields
        return queue_mail(message_key=key, **words)

    return queue
