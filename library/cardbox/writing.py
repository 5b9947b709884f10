"""Rows become cards, lots, invitations and loans, by the services, each exactly once.

A batch is one transaction: its rows are held, each calls its service within a savepoint, and
says in the same transaction that it was written. Whoever comes second finds the rows written;
whoever dies leaves no row half-done.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.cardbox.kinds import KindOfCard
from library.cardbox.models import CardImport, CardRow
from library.errors import Refused

AT_ONCE = 25
LONGEST_S = 0.2  # a batch ends after it, so that others can write between two
Fate = CardRow.Fate


def write_rows(card_import: CardImport, kind: KindOfCard, *, by: Member) -> Iterator[int]:
    """Write what is new, in the file's order; says how many rows after each batch."""
    while done := write_batch(card_import, kind, by=by):
        yield done


@transaction.atomic
def write_batch(card_import: CardImport, kind: KindOfCard, *, by: Member) -> int:
    """Write the next rows, as many as fit into a moment; how many were written or refused."""
    rows = _held(card_import, Fate.NEW, "number")
    kind.prepare(rows)
    for row in _while_time_lasts(rows):
        try:
            with transaction.atomic():
                row.made = kind.write(row, by=by)
            row.fate = Fate.WRITTEN
        except Refused as refusal:
            row.fate, row.said = Fate.REFUSED, str(refusal)
            row.column = kind.heading_of(refusal.field) if refusal.field else ""
        if kind.forgets and row.fate == Fate.WRITTEN:
            row.cells, row.values, row.key = [], {}, ""
    done = [row for row in rows if row.fate != Fate.NEW]
    CardRow.objects.write_back(done, "made", "fate", "said", "column", "cells", "values", "key")
    return len(done)


def what_rests_on(card_import: CardImport, kind: KindOfCard, *, most: int = 20) -> list[str]:
    """Sentences that name what was built on rows of the import; empty when it can be undone."""
    found = []
    for row in card_import.rows.filter(fate=Fate.WRITTEN).order_by("-number").iterator(500):
        if built := kind.rests_on(row):
            found.append(_("Row %(n)s: %(built)s") % {"n": row.number, "built": built})
        if len(found) >= most:
            break
    return found


def undo_rows(
    card_import: CardImport, kind: KindOfCard, *, by: Member, on: dt.date
) -> Iterator[int]:
    """Take back what was written, the last first."""
    while done := undo_batch(card_import, kind, by=by, on=on):
        yield done


@transaction.atomic
def undo_batch(card_import: CardImport, kind: KindOfCard, *, by: Member, on: dt.date) -> int:
    rows = _held(card_import, Fate.WRITTEN, "-number")
    for row in _while_time_lasts(rows):
        try:
            with transaction.atomic():
                kind.undo(row, by=by, on=on)
            row.fate, row.said, row.column = Fate.UNDONE, "", ""
        except Refused as refusal:
            row.fate, row.said, row.column = Fate.KEPT, str(refusal), ""
    done = [row for row in rows if row.fate != Fate.WRITTEN]
    CardRow.objects.write_back(done, "fate", "said", "column")
    return len(done)


def _while_time_lasts(rows: list[CardRow]) -> Iterator[CardRow]:
    """At least one; where rows are slow to write, fewer are."""
    until = time.monotonic() + LONGEST_S
    for place, row in enumerate(rows):
        if place and time.monotonic() > until:
            return
        yield row


def _held(card_import: CardImport, fate: str, order: str) -> list[CardRow]:
    """The next rows of that fate as they are now, held until the batch is over."""
    rows = card_import.rows.select_for_update(of=("self",), no_key=True)
    return list(rows.filter(fate=fate).order_by(order)[:AT_ONCE])
