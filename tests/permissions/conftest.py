"""The one library that all rows of the table are tried on."""

from __future__ import annotations

import pytest
import time_machine
from django.db import transaction

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
