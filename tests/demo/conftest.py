"""Tarn Hollow, lived through once in a test run and then laid out for each module that asks.

All of it is on one worker (``tests.sharing``), since living takes as long as everything else in
a module. What it made is kept in memory and written back row by row, inside a transaction that
the module's last test undoes.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models, transaction
from django.test import override_settings

from library.demo.services import SignIn, fill, let_the_planner_look
from library.stock.models import Lot, Packet

TODAY = dt.date(2025, 11, 20)
EARLY = TODAY.year - 6  # two seasons and a half have been lived through when it begins
ROOT = Path(__file__).resolve().parents[2]
LIVED_BY = ("accounts", "library", "fixtures", "requirements.lock", "tests/demo/conftest.py")
QUICK = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@dataclass
class Lived:
    """What there was in the database on the last day, and on the shelves when EARLY began."""

    sign_ins: list[SignIn]
    shelves: list[tuple]
    early_shelves: list[tuple]
    rows: list[list[models.Model]]


@pytest.fixture(scope="session")
def lived(django_db_setup, django_db_blocker) -> Lived:
    with django_db_blocker.unblock(), undone(), override_settings(PASSWORD_HASHERS=QUICK):
        before = {kind: kind._base_manager.count() for kind in apps.get_models(True)}
        early: list[tuple] = []
        sign_ins = fill(today=TODAY, progress=when_early(lambda: early.extend(shelves())))
        rows = [list(kind._base_manager.all()) for kind, had in before.items() if not had]
        return Lived(sign_ins, shelves(), early, [kind for kind in rows if kind])


def when_early(look: Callable[[], None]) -> Callable[[str], None]:
    """Told what is being done, look when EARLY begins."""
    return lambda sentence: look() if sentence.endswith(str(EARLY)) else None


@pytest.fixture
def lived_before(lived: Lived, request) -> list[tuple]:
    """The shelves after another living of the same days by the same code: an earlier run of the
    tests left them, in another process and perhaps on the other database.
    """
    kept = request.config.cache.mkdir("demo") / f"{_code_of_the_living()}.json"
    if not kept.exists():
        new = kept.with_suffix(f".{os.getpid()}")
        new.write_text(json.dumps(lived.shelves))
        new.replace(kept)
        pytest.skip("The first run of this code: the next one compares with it.")
    return [tuple(line) for line in json.loads(kept.read_text())]


def _code_of_the_living() -> str:
    """A name for everything that the demo is made by."""
    paths = [ROOT / part for part in LIVED_BY]
    files = [path for path in paths if path.is_file()]
    files += [path for folder in paths for path in folder.rglob("*") if path.is_file()]
    read = hashlib.sha256()
    for path in sorted(path for path in files if "__pycache__" not in path.parts):
        read.update(f"{path.relative_to(ROOT)}\0".encode() + path.read_bytes())
    return read.hexdigest()[:16]


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
    lots = Lot.objects.values_list("number", "variety__name", "harvest_year", "loose", "packed")
    packets = Packet.objects.values_list("code", "seeds", "state")
    return [*sorted(lots), *sorted(packets)]  # the two databases order letters differently
