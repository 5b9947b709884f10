"""Things that are due, told by a test instead of by the apps."""

from __future__ import annotations

import datetime as dt

import pytest

from library.hooks import DueItem
from library.reminders import due
from tests.mailbox import free_port, mailbox

__all__ = ["due_items", "free_port", "mailbox", "make_item"]

TODAY = dt.date(2026, 3, 10)


@pytest.fixture
def make_item():
    def make(recipient=None, **fields) -> DueItem:
        defaults = {
            "kind": "loan",
            "subject": "lending.Loan:1",
            "due_on": TODAY + dt.timedelta(days=7),
            "remind_on": TODAY,
            "title": "Bring back seed of Tarn Kettle",
            "url": "/loans/1/",
            "recipient_id": recipient and recipient.pk,
        }
        return DueItem(**defaults | fields)

    return make


@pytest.fixture
def due_items(monkeypatch) -> list[DueItem]:
    """A list that a test fills: what every app together says is due."""
    items: list[DueItem] = []
    told = (lambda *, until, only=None: list(items),)
    monkeypatch.setattr(due, "sources", lambda **_choice: told)
    monkeypatch.setattr(due, "row_kinds", tuple)
    return items
