"""Looking through a backup, and bringing it into an empty library."""

from __future__ import annotations

import contextlib
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Model
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Conflict, Refused
from library.exchange.backup.tables import AT_ONCE, digest_of, kept_models, lines_of, rows_from
from library.exchange.backup.writing import (
    FORMAT,
    FORMAT_VERSION,
    MANIFEST,
    migrations_applied,
)
from library.stock.checks import problems
from library.stock.models import Lot

LARGEST_MANIFEST = 5_000_000  # bytes; ours has some ten thousand


@dataclass(frozen=True)
class Backup:
    """A backup that is open: its manifest, and its tables' lines."""

    archive: zipfile.ZipFile
    manifest: dict[str, Any]

    def lines(self, model: type[Model]) -> Iterator[str]:
        """A table's lines; none of a table that the backup does not know."""
        name = f"{model._meta.label_lower}.jsonl"
        if model._meta.label_lower not in self.manifest["tables"]:
            return
        with (
            self.archive.open(name) as raw,
            io.TextIOWrapper(raw, encoding="utf-8", newline="\n") as text,
        ):
            yield from text


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Backup]:
    """The backup in the file. Refused: it is none, or none that this version reads."""
    try:
        with zipfile.ZipFile(path) as archive:
            yield Backup(archive, _manifest(archive))
    except FileNotFoundError as error:
        raise Refused(_("There is no file %(path)s.") % {"path": path}) from error
    except (zipfile.BadZipFile, UnicodeDecodeError, EOFError, OSError) as error:
        raise Refused(
            _("%(path)s is not a whole backup: %(why)s. Take another copy of it.")
            % {"path": path, "why": error}
        ) from error


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        if archive.getinfo(MANIFEST).file_size > LARGEST_MANIFEST:
            raise ValueError
        told = json.loads(archive.read(MANIFEST))
        known = told["format"] == FORMAT and all(
            isinstance(table["rows"], int) and isinstance(table["sha256"], str)
            for table in told["tables"].values()
        )
        if not known or not isinstance(told["migrations"], list):
            raise ValueError
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError) as error:
        raise Refused(_("This is not a backup of a seed library.")) from error
    if told["version"] != FORMAT_VERSION:
        raise Refused(
            _("This backup has form %(theirs)s; this version reads form %(ours)s.")
            % {"theirs": told["version"], "ours": FORMAT_VERSION}
        )
    files = {f"{label}.jsonl" for label in told["tables"]} | {MANIFEST}
    if set(archive.namelist()) != files:
        raise Refused(_("The backup does not hold the files that its list names."))
    return told


def check_backup(path: Path) -> dict[str, Any]:
    """Read all of it and compare with its own list; the list. Refused: they differ."""
    with opened(path) as backup:
        known = {model._meta.label_lower for model in kept_models()}
        strange = sorted(set(backup.manifest["tables"]) - known)
        if strange:
            raise Refused(
                _("The backup has a table “%(table)s” that this version does not know.")
                % {"table": strange[0]}
            )
        for model in kept_models():
            _agrees(backup, model, backup.lines(model))
        return backup.manifest


def restore_backup(path: Path) -> dict[str, Any]:
    """Fill an empty library from the file, all or nothing; the backup's list.

    Afterwards, and before anything is kept, each table is read back and compared with the list,
    and the stock is added up again. Refused: the file is damaged or of another version.
    Conflict: somebody or something is in the library already.
    """
    check_backup(path)
    with opened(path) as backup, transaction.atomic():
        _same_version(backup)
        _empty()
        for model in kept_models():
            _fill(model, backup.lines(model))
        _count_on()
        for model in kept_models():
            _agrees(backup, model, lines_of(model))
        connection.check_constraints()
        wrong = next(problems(), None)
        if wrong:
            raise Refused(
                _("The stock in the backup does not add up: %(why)s") % {"why": wrong}
            )
        return backup.manifest


def _agrees(backup: Backup, model: type[Model], lines: Iterator[str]) -> None:
    label = model._meta.label_lower
    told = backup.manifest["tables"].get(label, {"rows": 0, "sha256": digest_of([]).sha256})
    found = digest_of(lines)
    if (found.rows, found.sha256) != (told["rows"], told["sha256"]):
        raise Refused(
            _("“%(table)s” differs from what was written: %(found)d rows, %(told)d expected.")
            % {"table": label, "found": found.rows, "told": told["rows"]}
        )


def _same_version(backup: Backup) -> None:
    ours, theirs = set(migrations_applied()), set(backup.manifest["migrations"])
    if ours != theirs:
        raise Refused(
            _(
                "The backup was made by version %(theirs)s, whose tables differ from this "
                "one’s (%(example)s). Restore it with that version, then bring the program up "
                "to date."
            )
            % {"theirs": backup.manifest.get("program"), "example": min(ours ^ theirs)}
        )


def _empty() -> None:
    """What a new library has of its own, reference data and rules, makes room."""
    if Member.objects.exists() or Lot.objects.exists():
        raise Conflict(
            _(
                "There are members or lots in this library. A backup is restored into an empty "
                "one only: give another database, or empty this one with “manage.py flush”."
            )
        )
    waiting = kept_models()
    while waiting:
        held = {
            field.related_model
            for model in waiting
            for field in model._meta.concrete_fields
            if field.is_relation and field.related_model is not model
        }
        free = [model for model in waiting if model not in held] or waiting
        for model in free:
            model._base_manager.all().delete()
        waiting = [model for model in waiting if model not in free]


def _fill(model: type[Model], lines: Iterator[str]) -> None:
    try:
        if _stamps_itself(model):
            for row in rows_from(model, lines):
                row.save_base(raw=True, force_insert=True)
            return
        batch: list[Model] = []
        for row in rows_from(model, lines):
            batch.append(row)
            if len(batch) == AT_ONCE:
                model._base_manager.bulk_create(batch)
                batch = []
        model._base_manager.bulk_create(batch)
    except ValueError as error:
        raise Refused(
            _("“%(table)s” has a line that is no row of it: %(why)s.")
            % {"table": model._meta.label_lower, "why": error}
        ) from error


def _stamps_itself(model: type[Model]) -> bool:
    """Whether saving would write the time of now into a field."""
    return any(
        getattr(field, "auto_now", False) or getattr(field, "auto_now_add", False)
        for field in model._meta.concrete_fields
    )


def _count_on() -> None:
    """New keys come after the restored ones."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kept_models()):
            cursor.execute(statement)
