"""The reference tables that the checks read."""

import pytest
from hypothesis import settings

from tests.standards import tables

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def reference():
    """``reference("species")`` is every row of fixtures/reference/species.csv."""
    return tables.rows


@pytest.fixture(scope="session")
def species(reference):
    """Every species by its botanical name."""
    return {row["botanical_name"]: row for row in reference("species")}
