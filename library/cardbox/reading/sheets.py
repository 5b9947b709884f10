"""A workbook, read row by row from the process that opens it."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from library.cardbox.reading import text
from library.cardbox.reading.safety import Form, NotATable

COMMAND = [sys.executable, "-m", "library.cardbox.reading.worker"]


def rows_of(content: bytes, form: Form) -> Iterator[tuple[dict[str, Any], int, list[str]]]:
    """(facts of the sheet, number of the row, its cells) for each row that holds anything."""
    with tempfile.NamedTemporaryFile(suffix=f".{form.value}") as file:
        file.write(content)
        file.flush()
        with subprocess.Popen(  # noqa: S603 (our own module)
            [*COMMAND, file.name],
            cwd=settings.BASE_DIR,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        ) as process:
            try:
                yield from _heard(process)
            finally:
                process.kill()


def _heard(process: Any) -> Iterator[tuple[dict[str, Any], int, list[str]]]:
    facts: dict[str, Any] = {}
    for taken, line in enumerate(process.stdout):
        try:
            told = json.loads(line)
        except ValueError:
            raise _died() from None
        if isinstance(told, dict):
            if "wrong" in told:
                raise _refusal(told)
            facts = told
            continue
        number, row = told
        text.check_row(number, row, taken - 1)
        yield facts, number, row
    if process.wait() != 0:
        raise _died()


def _died() -> NotATable:
    return NotATable(
        _("Opening this workbook takes more memory or time than a table of its kind may; save "
          "the table alone, as CSV.")
    )  # fmt: skip


def _refusal(told: dict[str, Any]) -> NotATable:
    match told["wrong"]:
        case "rows":
            return text.too_many_rows()
        case "columns":
            return text.too_many_columns(told["row"], told["n"])
        case "cell":
            return text.too_long_cell(told["row"], told["column"], told["n"])
        case "empty":
            return NotATable(_("No sheet of the workbook holds anything."))
        case "password":
            return NotATable(_("The workbook has a password; save it without one."))
        case "text":
            return NotATable(
                _("The workbook holds more text than is taken; split it in parts.")
            )
    return NotATable(_("The workbook is damaged or cut off; save it anew and send it again."))
