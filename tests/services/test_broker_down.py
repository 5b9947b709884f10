"""A broker that does not answer holds nobody up for long and loses nothing."""

from __future__ import annotations

import pytest

from library.outbox.models import Message
from library.outbox.services import queue_mail


@pytest.mark.django_db(transaction=True)
def test_mail_is_queued_while_the_broker_is_away(settings, free_port, monkeypatch):
    from library.config.celery import app

    settings.REDIS_URL = f"redis://127.0.0.1:{free_port()}/0"
    monkeypatch.setattr(app.conf, "broker_url", settings.REDIS_URL)
    monkeypatch.setattr(app.amqp, "_producer_pool", None)
    monkeypatch.setattr(app, "_pool", None)

    queue_mail(to="wren@example.org", subject="Hello", text="Seed.", message_key="a")

    assert Message.objects.waiting().count() == 1
