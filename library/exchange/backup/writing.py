"""Writing a backup, from one moment of the database."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import io
import json
import os
import zipfile
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils.translation import gettext as _

from accounts.models import Community
from library.errors import Conflict
from library.exchange.backup.tables import Digest, kept_models, lines_of

FORMAT = "sowback-backup"
FORMAT_VERSION = 1
MANIFEST = "manifest.json"


def write_backup(path: Path, *, at: dt.datetime) -> dict[str, Any]:
    """Write everything into a new file that only its owner can read; its manifest.

    Nobody has to wait: the rows are read from one moment, whatever is written meanwhile. A
    file appears under its name only once it is whole.
    Conflict: there is a file of this name already.
    """
    if path.exists():
        raise Conflict(_("%(path)s is there already; give another name.") % {"path": path})
    part = path.with_name(path.name + ".part")
    part.unlink(missing_ok=True)
    descriptor = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    try:
        with os.fdopen(descriptor, "wb") as file:
            with one_moment(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                manifest = _write(archive, at)
            file.flush()
            os.fsync(file.fileno())
        # A link, not a rename: a file that appeared under the name meanwhile stays.
        os.link(part, path)
    except FileExistsError as error:
        raise Conflict(
            _("%(path)s is there already; give another name.") % {"path": path}
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return manifest


@contextlib.contextmanager
def one_moment() -> Iterator[None]:
    """All that is read inside is of one moment. Inside a transaction it is that one's."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        # Not ``atomic``, which takes the lock of who writes.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")


def _write(archive: zipfile.ZipFile, at: dt.datetime) -> dict[str, Any]:
    tables = {}
    for model in kept_models():
        label = model._meta.label_lower
        digest = _write_table(archive, f"{label}.jsonl", lines_of(model))
        tables[label] = {"rows": digest.rows, "sha256": digest.sha256}
    manifest = {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "made_at": at.isoformat(),
        "program": program_version(),
        "library": Community.current().name,
        "migrations": migrations_applied(),
        "tables": tables,
    }
    archive.writestr(MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False))
    return manifest


def _write_table(archive: zipfile.ZipFile, name: str, lines: Iterator[str]) -> Digest:
    rows, sha256 = 0, hashlib.sha256()
    with archive.open(name, "w", force_zip64=True) as raw, io.BufferedWriter(raw) as file:
        for line in lines:
            written = line.encode()
            rows += 1
            sha256.update(written)
            file.write(written)
    return Digest(rows, sha256.hexdigest())


def migrations_applied() -> list[str]:
    """``app.name`` of each, of the apps whose tables are kept."""
    ours = {model._meta.app_label for model in kept_models()}
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in applied if app in ours)


def program_version() -> str:
    try:
        return version("sowback")
    except PackageNotFoundError:  # run from a folder, not installed
        return "unknown"
