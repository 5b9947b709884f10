"""Files of a card box, and the ways to bring them in."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

import pytest
from django.utils import timezone

from library.cardbox import running, services
from library.cardbox.models import CardImport, CardRow

VARIETIES = [
    ["Crop", "Variety", "Other names", "Status", "Days"],
    ["tomato", "Weir Lantern", "Lantern", "open-pollinated", "78"],
    ["drying bean", "Fold Gate Brown", "", "landrace", ""],
]
LOTS = [
    ["No.", "Variety", "Seeds", "Year", "Received"],
    ["K1", "Tarn Kettle", "250", "2024", "2024-10-12"],
    ["K2", "Tarn Kettle", "1 000", "2025", "2025-11-02"],
]


def csv_of(rows: Iterable[Iterable[str]], *, delimiter: str = ",", encoding="utf-8") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue().encode(encoding)


def xlsx_of(rows) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    for row in rows:
        book.active.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods_of(rows) -> bytes:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book = OpenDocumentSpreadsheet()
    table = Table(name="Cards")
    for row in rows:
        line = TableRow()
        for value in row:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=str(value)))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.fixture
def bring(administrator):
    """``bring("lots", rows)`` brings a file in with the columns that were guessed."""

    def bring_(
        kind: str, rows, *, by=None, name: str = "cards.csv", columns=None, look=True, **told
    ) -> CardImport:
        content = rows if isinstance(rows, bytes) else csv_of(rows)
        by = by or administrator
        card = services.bring_in(kind=kind, file_name=name, content=content, by=by)
        if not look:
            return card
        guessed = card.columns
        facts = {"day_first": guessed["day_first"]} | {
            "comma_is_decimal": guessed["comma_is_decimal"]
        }
        services.choose_columns(
            card_import=card, by=by, fields=columns or guessed["fields"], **facts | told
        )
        work(card)
        return card

    return bring_


def work(card: CardImport) -> None:
    """All the background work there is to do of an import."""
    claimed = running.claim(card.pk, worker="test")
    assert claimed is not None
    assert running.work_on(claimed)
    card.refresh_from_db()


@pytest.fixture
def write(administrator):
    def write_(card: CardImport, *, by=None) -> CardImport:
        services.confirm(card_import=card, by=by or administrator, on=timezone.localdate())
        work(card)
        return card

    return write_


@pytest.fixture
def undo(administrator):
    def undo_(card: CardImport, *, by=None) -> CardImport:
        services.undo(card_import=card, by=by or administrator, on=timezone.localdate())
        work(card)
        return card

    return undo_


def fates(card: CardImport) -> list[str]:
    return list(card.rows.order_by("number").values_list("fate", flat=True))


def row(card: CardImport, number: int) -> CardRow:
    return card.rows.get(number=number)
