"""Mail on the console."""

from __future__ import annotations

import io

import pytest
from django.core.mail import EmailMessage

from library.outbox.console import ConsoleMail


@pytest.fixture
def console(monkeypatch):
    monkeypatch.setattr(ConsoleMail, "reminders", 0)
    return ConsoleMail(stream=io.StringIO())


def test_a_mail_is_shown_as_a_person_reads_it(console):
    console.send_messages([EmailMessage("Welcome", "Line one\nLine two", to=["a@example.org"])])

    assert console.stream.getvalue() == (
        "[mail] to a@example.org: Welcome\n    Line one\n    Line two\n"
    )


def test_a_flood_of_reminders_is_cut_short_and_other_mail_is_not(console):
    reminder = EmailMessage(
        "Due", "Text", to=["a@example.org"], headers={"List-Unsubscribe": "<x>"}
    )

    console.send_messages([reminder] * 40)
    console.send_messages([EmailMessage("Code", "123", to=["b@example.org"])])

    lines = console.stream.getvalue().splitlines()
    assert lines == [
        *["[mail] to a@example.org: Due"] * 5,
        "[mail] … and more reminders, not shown here from now on.",
        "[mail] to b@example.org: Code",
        "    123",
    ]
