"""``manage.py backup FILE``: everything in one file."""

from __future__ import annotations

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from library.errors import Refused
from library.exchange.backup.reading import check_backup
from library.exchange.backup.writing import write_backup


class Command(BaseCommand):
    help = "Writes the whole library into one file, while it runs, and reads it back to check."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, **options) -> None:
        path: Path = options["file"]
        try:
            write_backup(path, at=timezone.now())
            tables = check_backup(path)["tables"]
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        except OSError as error:
            raise CommandError(f"{path} could not be written: {error}") from error
        rows = sum(table["rows"] for table in tables.values())
        self.stdout.write(
            f"{path}: {rows} rows of {len(tables)} tables, read back and the same. It holds "
            "addresses and places of members: keep it where nobody else reads it."
        )
