"""Tarn Hollow, lived through once in a test run and then laid out for each module that asks.

Living takes as long as everything else in a module; what it made is kept in memory and written
back row by row, inside a transaction that the module's last test undoes.
"""

from __future__ import annotations

import datetime as dt
from contextlib import contextmanager
from dataclasses import dataclass

import pytest
from django.apps import apps
from django.db import models, transaction
from django.test import override_settings

from library.demo.services import SignIn, fill, let_the_planner_look
from library.stock.models import Lot, Packet

TODAY = dt.date(2025, 11, 20)
QUICK = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@dataclass
class Lived:
    """What there was in the database on the last day."""

    sign_ins: list[SignIn]
    shelves: list[tuple]
    rows: list[list[models.Model]]


def pytest_collection_modifyitems(items):
    """All of it on one worker: the valley's years are long enough to live through once."""
    for item in items:
        if "lived" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.xdist_group("demo"))


@pytest.fixture(scope="session")
def lived(django_db_setup, django_db_blocker) -> Lived:
    with django_db_blocker.unblock(), undone(), override_settings(PASSWORD_HASHERS=QUICK):
        before = {kind: kind._base_manager.count() for kind in apps.get_models(True)}
        sign_ins = fill(today=TODAY)
        rows = [list(kind._base_manager.all()) for kind, had in before.items() if not had]
        return Lived(sign_ins, shelves(), [kind for kind in rows if kind])


@pytest.fixture(scope="module")
def laid_out(lived: Lived, django_db_blocker):
    with django_db_blocker.unblock():
        around = transaction.atomic()
        around.__enter__()
        for rows in lived.rows:
            type(rows[0])._base_manager.bulk_create(rows, batch_size=400)
        let_the_planner_look()
    yield
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        around.__exit__(None, None, None)


@pytest.fixture
def demo(laid_out, lived: Lived, db) -> list[SignIn]:
    """The demo community, changed by no other test; the people who can sign in."""
    return lived.sign_ins


@contextmanager
def undone():
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def shelves() -> list[tuple]:
    """Every lot with what is left of it, and every packet with where it is."""
    lots = Lot.objects.order_by("number").values_list(
        "number", "variety__name", "harvest_year", "loose", "packed"
    )
    packets = Packet.objects.order_by("code").values_list("code", "seeds", "state")
    return [*lots, *packets]
