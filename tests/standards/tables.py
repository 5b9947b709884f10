"""The reference tables, to be read while tests are collected: one check for each row."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """Every row of a table, by its file's name without the ending."""
    with (REFERENCE / f"{name}.csv").open(newline="", encoding="utf-8") as table:
        return list(csv.DictReader(table))


def each(name: str, *label: str, **wanted: str) -> list[Any]:
    """A parameter for each row that has the wanted cells, called by the columns ``label``."""
    return [
        pytest.param(row, id=" ".join(row[column] for column in label))
        for row in rows(name)
        if all(row[column] == cell for column, cell in wanted.items())
    ]
