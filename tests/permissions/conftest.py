"""The one library that all rows of the table are tried on."""

from __future__ import annotations

import pytest
import time_machine
from django.db import connection, transaction

from tests.permissions.asking import everything
from tests.permissions.world import NOW, build


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    """Built once for a file of tests; what a test changes is rolled back after it."""
    with (
        django_db_blocker.unblock(),
        time_machine.travel(NOW, tick=False),
        transaction.atomic(),
    ):
        built = build()
        built.before = everything()
        yield built
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _each_in_its_own_savepoint(world, db):
    """``world`` first, so that the test's own transaction is inside of it."""


# Who may do what is settled before the database is asked, and all of it is tried on SQLite. On
# PostgreSQL a member asks each address, and somebody who may do all of it with hostile values.
WHO_ASKS_POSTGRESQL = {"owner"}
ONLY_WORDS = {"test_methods"}


def pytest_collection_modifyitems(config, items):
    """Leave out, on PostgreSQL, what differs only by who asks. What is hostile is all tried."""
    if connection.vendor != "postgresql":
        return
    left_out = [item for item in items if _differs_only_by_who_asks(item)]
    out = set(left_out)
    items[:] = [item for item in items if item not in out]
    config.hook.pytest_deselected(items=left_out)


def _differs_only_by_who_asks(item) -> bool:
    if item.path.parent.name != "permissions":
        return False
    if item.path.stem in ONLY_WORDS:
        return True
    who = getattr(item, "callspec", None) and item.callspec.params.get("who")
    return item.path.stem == "test_table" and who and who not in WHO_ASKS_POSTGRESQL
