"""Reminders written down as rows: one statement for all things of a kind that are due.

What is known already is left out by an anti-join, and a unique key keeps two planners that
write at the same moment from writing one twice.
"""

from __future__ import annotations

import datetime as dt
from sqlite3 import sqlite_version_info

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Expression, F, QuerySet, TextField
from django.db.models.functions import Cast, Left

from library.due_rows import DueRows

TITLE_LENGTH = 250  # of the column

# A row of ``due`` meets each reader (``reader.id``) it is for, by name or role. What waits or
# was sent is left out; what was withdrawn and is due after all, a loan closed by mistake, waits
# again, for a mail of another key. In one order for everyone: two planners that write the same
# rows never wait in a circle. What is due is worked out before it meets anything: left to
# choose, SQLite begins at the varieties and builds an index of all lots for that.
WRITE = (
    "WITH due AS {first} ({due})"
    " INSERT INTO reminders_reminder (recipient_id, kind, subject, due_on, title, detail, url,"
    " planned_at, times_sent_again)"
    " SELECT reader.id, %s, due.due_subject, due.due_day, due.due_title, '', due.due_url, %s, 0"
    " FROM due JOIN ({readers}) AS reader ON {whose}"
    " WHERE NOT EXISTS (SELECT 1 FROM reminders_reminder AS known"
    " WHERE known.recipient_id = reader.id AND known.kind = %s"
    " AND known.subject = due.due_subject AND known.due_on = due.due_day"
    " AND known.withdrawn_at IS NULL)"
    " ORDER BY reader.id, due.due_row"
    " ON CONFLICT (recipient_id, kind, subject, due_on) DO UPDATE SET withdrawn_at = NULL,"
    " queued_at = NULL, message_id = NULL,"
    " times_sent_again = reminders_reminder.times_sent_again + 1"
    " WHERE reminders_reminder.withdrawn_at IS NOT NULL"
)


def plan_rows(due: DueRows, *, readers: QuerySet, at: dt.datetime) -> None:
    """A reminder of each row for each reader it is for; what was withdrawn waits again.

    ``readers`` are members; of a row with a recipient only that one is told. The detail is
    left to the letter, which asks for the thing again right before it goes.
    """
    try:
        rows, row_values = told_columns(due).query.sql_with_params()
        whom, whom_values = readers.order_by().values("id").query.sql_with_params()
    except EmptyResultSet:  # nobody to be told
        return
    whose = "reader.id = due.due_whose" if due.recipient else "1 = 1"
    now = connection.ops.adapt_datetimefield_value(at)
    values = [*row_values, due.kind, now, *whom_values, due.kind]
    with connection.cursor() as cursor:
        cursor.execute(
            WRITE.format(first=_first(), due=rows, readers=whom, whose=whose), values
        )


def _first() -> str:
    """The word for it; SQLite knows it since 3.35."""
    is_old = connection.vendor == "sqlite" and sqlite_version_info < (3, 35)
    return "" if is_old else "MATERIALIZED"


def told_columns(due: DueRows) -> QuerySet:
    """What a reminder holds of each row, as ``due_subject``, ``due_day`` and so on."""
    # Of varying length on both databases: what a column holds is cut where the column ends.
    columns: dict[str, Expression | F] = {
        "due_row": F("pk"),
        "due_subject": due.subject,
        "due_day": due.due_on,
        "due_title": Left(Cast(due.title, TextField()), TITLE_LENGTH),
        "due_url": due.url,
    }
    if due.recipient:
        columns["due_whose"] = F(due.recipient)
    return due.rows.order_by().annotate(**columns).values(*columns)
