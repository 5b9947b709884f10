"""Reads a workbook in a process of its own, with bounded memory and time.

    python -m library.cardbox.reading.worker FILE

A sheet of three cells can claim to be a million rows wide and take all the memory there is;
then this process dies, and nobody else. It prints a line of JSON with the sheet's name and the
names of the others, then one for each row: its number in the sheet and its values as text.
"""

from __future__ import annotations

import datetime as dt
import json
import resource
import sys
from typing import Any

from library.cardbox.reading.limits import LONGEST_CELL, MOST_COLUMNS, MOST_ROWS, MOST_TEXT

MEMORY = 1024 * 1024 * 1024
SECONDS = 60


def main(path: str) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        with CalamineWorkbook.from_path(path) as book:
            _print_sheet(book)
    except CalamineError as error:
        kind = "password" if "assword" in f"{type(error).__name__}{error}" else "broken"
        _say({"wrong": kind, "why": str(error)[:200]})
    except _TooMuch as too_much:
        _say(too_much.told)


class _TooMuch(Exception):
    def __init__(self, what: str, **facts: Any) -> None:
        self.told = {"wrong": what, **facts}


def _print_sheet(book: Any) -> None:
    for name in book.sheet_names:
        rows = book.get_sheet_by_name(name).iter_rows()
        if _print_rows(name, [n for n in book.sheet_names if n != name], rows):
            return
    _say({"wrong": "empty"})


def _print_rows(name: str, others: list[str], rows: Any) -> bool:
    """Print the rows that hold anything; False when the sheet is empty."""
    printed, text = 0, 0
    for number, row in enumerate(rows, start=1):
        values = [_text(value) for value in row]
        while values and not values[-1].strip():
            values.pop()
        if not values:
            continue
        _check(number, values, printed)
        text += sum(map(len, values))
        if text > MOST_TEXT:
            raise _TooMuch("text", row=number)
        if not printed:
            _say({"sheet": name[:100], "others": [other[:100] for other in others[:20]]})
        _say([number, values])
        printed += 1
    return printed > 0


def _check(number: int, values: list[str], printed: int) -> None:
    if printed > MOST_ROWS:
        raise _TooMuch("rows", row=number)
    if len(values) > MOST_COLUMNS:
        raise _TooMuch("columns", row=number, n=len(values))
    for place, value in enumerate(values):
        if len(value) > LONGEST_CELL:
            raise _TooMuch("cell", row=number, column=place + 1, n=len(value))


def _text(value: Any) -> str:
    """A value as text: days as 2019-04-03, whole numbers without a point."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")
    if isinstance(value, dt.date):
        return value.isoformat()
    return "" if value is None else str(value)


def _say(told: Any) -> None:
    print(json.dumps(told), flush=False)


if __name__ == "__main__":
    main(sys.argv[1])
