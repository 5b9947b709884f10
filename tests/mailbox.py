"""A real SMTP server for the run. An area's conftest imports the fixtures it uses."""

from __future__ import annotations

import socket
from types import SimpleNamespace

import pytest
from aiosmtpd.controller import Controller


@pytest.fixture
def free_port():
    """``free_port()`` is a TCP port that nobody listens on."""

    def find() -> int:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            return probe.getsockname()[1]

    return find


class Mailbox:
    """An SMTP server's handler: keeps what it accepts, answers what ``answers`` says."""

    def __init__(self) -> None:
        self.received: list[SimpleNamespace] = []
        self.answers: dict[str, str] = {}
        self.on_data = lambda: None

    async def handle_RCPT(self, server, session, envelope, address, options):
        answer = self.answers.get(address, "250 OK")
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server, session, envelope):
        self.on_data()
        self.received.append(
            SimpleNamespace(
                sender=envelope.mail_from, to=envelope.rcpt_tos, content=envelope.content
            )
        )
        return self.answers.get("DATA", "250 OK")


@pytest.fixture
def mailbox(settings, free_port):
    """A real SMTP server that outgoing mail goes to."""
    handler = Mailbox()
    server = Controller(handler, hostname="127.0.0.1", port=free_port())
    server.start()
    settings.OUTBOX_DELIVERY_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_PORT = server.port
    yield handler
    server.stop()
