"""The words of a reminder."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from library.reminders.letter import write_letter
from library.reminders.models import Reminder

pytestmark = pytest.mark.django_db


@pytest.fixture
def reminder(member):
    return Reminder.objects.create(
        recipient=member,
        kind="loan",
        subject="lending.Loan:1",
        due_on=dt.date(2026, 3, 17),
        title="Bring back seed of <Tarn> & Kettle",
        detail="Seed of 12 plants is plenty.",
        url="/loans/1/",
    )


@pytest.fixture(autouse=True)
def a_day_in_march():
    with time_machine.travel("2026-03-10 12:00Z", tick=False):
        yield


def test_the_subject_is_the_title_as_written(reminder):
    letter = write_letter(reminder, language="en")

    assert letter["subject"] == "Bring back seed of <Tarn> & Kettle"


def test_what_is_overdue_says_so_in_the_subject(reminder):
    reminder.due_on = dt.date(2026, 3, 9)

    letter = write_letter(reminder, language="en")

    assert letter["subject"] == "Overdue: Bring back seed of <Tarn> & Kettle"


def test_the_text_says_what_when_and_where(reminder, settings):
    settings.SITE_URL = "https://seed.example.org"

    lines = write_letter(reminder, language="en")["text"].splitlines()

    assert lines[0] == "Hello wren,"
    assert lines[2:4] == ["Bring back seed of <Tarn> & Kettle", "Due: 17 March 2026"]
    assert lines[5] == "Seed of 12 plants is plenty."
    assert lines[7] == "https://seed.example.org/loans/1/"


def test_the_date_is_written_in_the_readers_language(reminder):
    text = write_letter(reminder, language="de")["text"]

    assert "17. März 2026" in text


def test_the_html_escapes_what_people_typed(reminder):
    html = write_letter(reminder, language="en")["html"]

    assert "<h1>Bring back seed of &lt;Tarn&gt; &amp; Kettle</h1>" in html
    assert "<Tarn>" not in html


def test_the_mail_says_how_to_stop_reminders(reminder, settings):
    settings.SITE_URL = "https://seed.example.org"

    headers = write_letter(reminder, language="en")["headers"]

    assert headers == {"List-Unsubscribe": "<https://seed.example.org/account/reminders/>"}
