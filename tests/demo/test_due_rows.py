"""What is told as rows of one query is what the items tell, of every thing of the demo."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import translation

from accounts.models import Member
from library.reminders import due, services
from library.reminders.due import LATE, items_to_remind, row_kinds, rows_to_remind
from library.reminders.models import Reminder
from library.reminders.rows import told_columns
from library.reminders.services import plan_reminders
from tests.demo.conftest import TODAY

pytestmark = pytest.mark.usefixtures("demo")

DAYS = [TODAY + dt.timedelta(days=days) for days in (-400, -30, 0, 45, 200, 500)]
PARTS = ("subject", "day", "title", "url")


def as_items(on: dt.date) -> set[tuple]:
    named = {kind.name for kind in row_kinds()}
    return {
        (i.kind, i.subject, i.due_on, str(i.title)[:250], i.url, i.recipient_id, i.role)
        for i in items_to_remind(on=on)
        if i.kind.removesuffix(LATE) in named
    }


def as_rows(on: dt.date) -> set[tuple]:
    return {
        (told.kind, *(row[f"due_{part}"] for part in PARTS), row.get("due_whose"), role)
        for told in rows_to_remind(on=on)
        for role in [told.role or None]
        for row in told_columns(told)
    }


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("on", DAYS, ids=str)
def test_rows_and_items_tell_the_same(on, language):
    with translation.override(language):
        assert as_rows(on) == as_items(on)


def test_every_kind_that_is_told_as_rows_was_compared():
    seen = {kind for day in DAYS for kind, *_rest in as_rows(day)}

    assert {kind.name for kind in row_kinds()} <= seen
    assert f"loan{LATE}" in seen


@pytest.mark.django_db
def test_planning_by_rows_writes_what_planning_by_items_writes(monkeypatch):
    """The same reminders for the same people, whichever way they are gathered."""
    Reminder.objects.all().delete()
    plan_reminders(on=TODAY)
    by_rows = written()

    Reminder.objects.all().delete()
    monkeypatch.setattr(due, "row_kinds", tuple)
    told = due.items_to_remind
    monkeypatch.setattr(services, "items_to_remind", lambda *, on, **_choice: told(on=on))
    plan_reminders(on=TODAY)

    assert by_rows == written()
    assert by_rows


def written() -> set[tuple]:
    rows = Reminder.objects.filter(queued_at__isnull=False, message__isnull=False)
    assert rows.count() == Reminder.objects.filter(message__isnull=False).count()
    return set(rows.values_list("recipient", "kind", "subject", "due_on", "title", "url"))


def test_each_member_is_told_the_same_when_only_they_are_asked_for():
    until = TODAY + dt.timedelta(days=400)
    everything = list(due.all_items(until=until, on=TODAY))

    told = {}
    for person in Member.objects.active():
        asked = list(due.all_items(until=until, on=TODAY, member=person))
        mine = [item for item in everything if due.concerns(item, person)]
        assert [item for item in asked if due.concerns(item, person)] == mine
        told[person.role] = told.get(person.role, 0) + len(mine)

    assert all(told.values())
