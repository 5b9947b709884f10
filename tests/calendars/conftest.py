"""Calendars of what a test says is due."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest

from library.calendars.services import make_feed
from tests.reminders.conftest import TODAY, due_items, make_item

__all__ = ["TODAY", "due_items", "make_item"]


@pytest.fixture
def address(client):
    """``address(member)`` is the path of a calendar that the member just made."""

    def make(member) -> str:
        client.force_login(member)
        answer = client.post("/account/me/calendar/")
        client.logout()
        return urlsplit(answer.context["address"]).path

    return make


@pytest.fixture
def feed_for():
    """``feed_for(member)`` is the feed, its secret left aside."""

    def make(member):
        feed, _secret = make_feed(member=member)
        return feed

    return make
