"""A broker that does not answer holds nobody up for long and loses nothing."""

from __future__ import annotations

import pytest
from django.core.cache import cache

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


@pytest.fixture
def no_redis(settings, free_port):
    settings.CACHES = {
        "default": {
            "BACKEND": "library.config.cache.ForgivingRedisCache",
            "LOCATION": f"redis://127.0.0.1:{free_port()}/0",
        }
    }


def test_a_cache_that_is_away_is_an_empty_cache(no_redis, caplog):
    cache.set("a", 1)

    assert cache.get("a", "nothing") == "nothing"
    assert cache.add("a", 1) is True
    assert cache.delete("a") is False
    assert cache.set_many({"a": 1}) == ["a"]
    assert cache.get_many(["a", "b"]) == {}
    assert "Redis does not answer" in caplog.text


@pytest.mark.django_db
def test_people_can_sign_in_while_redis_is_away(no_redis, client, member):
    answer = client.post(
        "/account/login/", {"login": member.email, "password": "a-long-password"}
    )

    assert (answer.status_code, answer.url) == (302, "/")
