"""A table: its headings, and its rows one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from library.cardbox.reading import sheets, text
from library.cardbox.reading.safety import Form, NotATable

Row = tuple[int, list[str]]


@dataclass
class Table:
    """``told`` is how it was read: form, and encoding with delimiter, or the sheet's name."""

    content: bytes
    told: dict[str, Any] = field(default_factory=dict)

    @property
    def form(self) -> Form:
        return Form(self.told["form"])

    def rows(self) -> Iterator[Row]:
        """Every row that holds anything, headings first; nothing of it is kept."""
        if self.form == Form.CSV:
            yield from text.rows_of(
                self.content, encoding=self.told["encoding"], delimiter=self.told["delimiter"]
            )
            return
        for facts, number, row in sheets.rows_of(self.content, self.form):
            self.told |= facts
            yield number, row


def open_table(content: bytes, form: Form) -> Table:
    """Find out how the file is to be read."""
    told: dict[str, Any] = {"form": form.value}
    if form == Form.CSV:
        told["encoding"] = text.encoding_of(content)
        told["delimiter"] = text.delimiter_of(text.sample_of(content, told["encoding"]))
    return Table(content, told)


def look_over(table: Table, *, sample: int) -> tuple[list[str], list[Row], int]:
    """The headings, the first ``sample`` rows, and how many there are: the whole file is read
    once, so that what is wrong with it is said at once. Raises NotATable.
    """
    rows = table.rows()
    first = next(rows, None)
    if first is None:
        raise NotATable(_("The file is empty. Send one with a row of headings and rows below."))
    headings = [" ".join(cell.split())[:120] for cell in first[1]]
    kept: list[Row] = []
    count = 0
    for row in rows:
        count += 1
        if len(kept) < sample:
            kept.append(row)
    if not count:
        raise NotATable(_("The file has headings but no rows below them."))
    return headings, kept, count
