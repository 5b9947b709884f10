"""Tables as a zip file: CSV for a spreadsheet, JSON for a program, and what each column means.

The description is a Data Package with Table Schema (Frictionless Data, specifications v1,
https://specs.frictionlessdata.io/, its terms from memory): ``datapackage.json``.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import shutil
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, BinaryIO

from django.core.serializers.json import DjangoJSONEncoder
from django.utils.translation import gettext as _

from accounts.models import Community
from library.exchange.backup.writing import one_moment
from library.exchange.mcpd.writing import FORMULA, GUARD
from library.exchange.whole.table import TEXT, Column, Table
from library.exchange.whole.tables import TABLES


def write_library(file: BinaryIO, *, on: dt.date) -> dict[str, int]:
    """Write every table from one moment; the number of rows of each."""
    with one_moment(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        counts = {table.name: write_table(archive, table, table.read()) for table in TABLES}
        name = Community.current().name
        describe(archive, TABLES, title=name, on=on, about=_about(name))
    return counts


def write_table(archive: zipfile.ZipFile, table: Table, rows: Iterable[dict[str, Any]]) -> int:
    """The table in both forms; how many rows it had. Two files cannot be open in an archive at
    once, so the JSON waits in memory, packed.
    """
    count = 0
    lines = io.BytesIO()
    with zipfile.ZipFile(lines, "w", zipfile.ZIP_DEFLATED) as aside, _text(aside, "j") as out:
        with _text(archive, f"csv/{table.name}.csv") as file:
            writer = csv.writer(file)
            writer.writerow([column.title for column in table.columns])
            for row in rows:
                writer.writerow([in_cell(column, row) for column in table.columns])
                out.write((",\n" if count else "[\n") + json.dumps(row, cls=DjangoJSONEncoder))
                count += 1
        out.write("\n]\n" if count else "[]\n")
    with (
        zipfile.ZipFile(lines) as aside,
        aside.open("j") as kept,
        archive.open(f"json/{table.name}.json", "w", force_zip64=True) as to,
    ):
        shutil.copyfileobj(kept, to)
    return count


@contextmanager
def _text(archive: zipfile.ZipFile, name: str) -> Iterator[Any]:
    with (
        archive.open(name, "w", force_zip64=True) as raw,
        io.TextIOWrapper(raw, encoding="utf-8", newline="") as text,
    ):
        yield text


def in_cell(column: Column, row: dict[str, Any]) -> str:
    """A value as CSV has it; text that a spreadsheet would calculate behind an apostrophe."""
    value = row[column.title]
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.date):  # a time is one too
        return value.isoformat()
    written = str(value)
    return GUARD + written if column.kind == TEXT and written.startswith(FORMULA) else written


def describe(
    archive: zipfile.ZipFile, tables: Iterable[Table], *, title: str, on: dt.date, about: str
) -> None:
    """``datapackage.json``, and the same to read in ``README.txt``."""
    tables = list(tables)
    package = {
        "profile": "tabular-data-package",
        "name": "seed-library",
        "title": title,
        "created": on.isoformat(),
        "resources": [_resource(table, {one.name for one in tables}) for table in tables],
    }
    archive.writestr("datapackage.json", json.dumps(package, indent=1, ensure_ascii=False))
    archive.writestr("README.txt", "\n".join([about, *map(_told, tables)]))


def _resource(table: Table, known: set[str]) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": f"csv/{table.name}.csv",
        "title": str(table.title),
        "description": str(table.meaning),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "fields": [
                {"name": c.title, "type": c.kind, "description": str(c.meaning)}
                for c in table.columns
            ],
            "missingValues": [""],
            "primaryKey": "id",
            "foreignKeys": [
                {"fields": c.title, "reference": {"resource": c.links, "fields": "id"}}
                for c in table.columns
                if c.links in known
            ],
        },
    }


def _told(table: Table) -> str:
    width = max(len(column.title) for column in table.columns)
    columns = [f"    {c.title:<{width}}  {c.kind}: {c.meaning}" for c in table.columns]
    return "\n".join([f"{table.name}: {table.title}", f"  {table.meaning}", *columns, ""])


def _about(name: str) -> str:
    return _(
        "Everything that %(library)s knows of its seed. Each table is there twice: csv/ for "
        "spreadsheets, in UTF-8, where text that a spreadsheet would calculate has an "
        "apostrophe before it; and json/ without it. An empty cell is what nobody told. "
        "Members are named as they chose; their addresses and gardens are not here. To move a "
        "library to another server use a backup instead: this cannot be read back.\n"
    ) % {"library": name}
