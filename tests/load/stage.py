"""A database of its own for a measurement, and Django set up on it; gone afterwards.

Nothing of Django may be imported before ``own_database`` has run, so what needs models lives in
``shelf`` and is imported by the measurements once the stage is set.
"""

from __future__ import annotations

import os
import statistics
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

DATA_DIR = "SOWBACK_DATA_DIR"


@contextmanager
def own_database(url: str) -> Iterator[str]:
    """Make a database beside the one that ``url`` names, set Django up on it, and drop it.

    Empty ``url``: SQLite in a folder that goes away. The address of what was made is given,
    for processes to be started on it.
    """
    with tempfile.TemporaryDirectory(prefix="sowback-load-") as folder:
        os.environ[DATA_DIR] = folder
        if not url:
            yield _set_up(f"sqlite:///{Path(folder) / 'load.sqlite3'}")
            return
        parts = urlsplit(url)
        name = f"sowback_load_{os.getpid()}"
        admin = urlunsplit(parts._replace(scheme="postgresql", path="/postgres"))
        _execute(admin, f'CREATE DATABASE "{name}"')
        try:
            yield _set_up(urlunsplit(parts._replace(path=f"/{name}")))
        finally:
            from django.db import connections

            connections.close_all()
            _execute(admin, f'DROP DATABASE "{name}" WITH (FORCE)')


def join_database(url: str) -> None:
    """Set Django up on a database that another process made."""
    import django

    os.environ["DATABASE_URL"] = url
    os.environ.pop("REDIS_URL", None)
    os.environ["DJANGO_SETTINGS_MODULE"] = "library.config.settings"
    django.setup()


def _set_up(url: str) -> str:
    join_database(url)
    from django.core.management import call_command

    from library.catalogue.services import load_reference

    call_command("migrate", interactive=False, verbosity=0)
    load_reference()
    return url


def _execute(url: str, statement: str) -> None:
    import psycopg

    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(statement)


def settle() -> None:
    """Let the database know what it holds, as its own housekeeping would have by then."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("VACUUM" if connection.vendor == "postgresql" else "SELECT 1")
        cursor.execute("ANALYZE")


def spread(figures: list[float], digits: int = 0) -> str:
    """``median [least–most]``."""
    middle, least, most = statistics.median(figures), min(figures), max(figures)
    return f"{middle:.{digits}f} [{least:.{digits}f}–{most:.{digits}f}]"
