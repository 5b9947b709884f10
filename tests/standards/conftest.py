"""The reference tables that the checks read."""

import csv
from pathlib import Path

import pytest
from hypothesis import settings

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def reference():
    """``reference("species")`` is every row of fixtures/reference/species.csv."""

    def rows(name: str) -> list[dict[str, str]]:
        with (REFERENCE / f"{name}.csv").open(newline="", encoding="utf-8") as table:
            return list(csv.DictReader(table))

    return rows


@pytest.fixture(scope="session")
def species(reference):
    """Every species by its botanical name."""
    return {row["botanical_name"]: row for row in reference("species")}
