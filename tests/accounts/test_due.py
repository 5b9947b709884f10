"""Applications that wait are due to the coordinators."""

from __future__ import annotations

import datetime as dt

from accounts import services
from accounts.due import due_items

MONDAY = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)


def items(until: str):
    return list(due_items(until=dt.date.fromisoformat(until)))


def test_an_application_is_spoken_of_after_three_days_and_due_after_seven(applicant):
    applicant.applied_at = MONDAY
    applicant.save()

    (item,) = items("2026-03-05")
    assert items("2026-03-04") == []
    assert (item.remind_on, item.due_on) == (dt.date(2026, 3, 5), dt.date(2026, 3, 9))
    assert (item.role, item.recipient_id, item.url) == ("coordinator", None, "/members/")
    assert item.subject == f"accounts.Member:{applicant.pk}"


def test_an_application_that_was_answered_is_no_longer_due(applicant, coordinator):
    applicant.applied_at = MONDAY
    applicant.save()
    before = len(items("2026-04-01"))

    services.approve(member=applicant, by=coordinator)

    assert (before, items("2026-04-01")) == (1, [])


def test_an_application_with_an_unconfirmed_email_is_not_due(db):
    services.apply(email="lark@example.org", password="x", display_name="lark")

    assert items("2999-01-01") == []
