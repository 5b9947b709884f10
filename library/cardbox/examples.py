"""Small files to begin from, and rows given back with what is wrong with them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from django.utils.translation import gettext as _

from library.cardbox.kinds import KINDS
from library.cardbox.models import CardImport, CardRow

# What a spreadsheet would calculate, at the beginning of a cell; wide signs, tabs and line
# ends too, since some programs look past those.
FORMULA = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
BOM = "\ufeff"  # else spreadsheets take UTF-8 for something older
GIVEN_BACK = (
    CardRow.Fate.WRONG,
    CardRow.Fate.UNCLEAR,
    CardRow.Fate.REFUSED,
    CardRow.Fate.KEPT,
)


def example_of(kind: str) -> str:
    """A small file of this kind, as CSV."""
    return BOM + _lines(KINDS[kind].example)


def given_back(card_import: CardImport) -> Iterator[str]:
    """The rows that were not taken, as they came, each with its sentence in a last column."""
    headings = [*card_import.headings, _("What is wrong")]
    yield BOM + _lines([[plain_text(heading) for heading in headings]])
    rows = card_import.rows.filter(fate__in=GIVEN_BACK).order_by("number")
    width = len(card_import.headings)
    for row in rows.iterator(1000):
        cells = [*row.cells[:width], *[""] * (width - len(row.cells)), row.sentence]
        yield _lines([[plain_text(cell) for cell in cells]])


def plain_text(value: str) -> str:
    """The value, with an apostrophe before what a spreadsheet would take for a formula."""
    return f"'{value}" if value.startswith(FORMULA) else value


def _lines(rows: Iterable[Iterable[str]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue()
