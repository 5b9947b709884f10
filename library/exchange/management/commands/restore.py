"""``manage.py restore FILE``: a backup into an empty library."""

from __future__ import annotations

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError, CommandParser

from library.errors import Refused
from library.exchange.backup.reading import check_backup, restore_backup


class Command(BaseCommand):
    help = "Fills an empty library from a backup, and verifies every table, chain and balance."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--check", action="store_true", help="only look whether the file is whole"
        )

    def handle(self, **options) -> None:
        path: Path = options["file"]
        try:
            told = check_backup(path) if options["check"] else restore_backup(path)
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        rows = sum(table["rows"] for table in told["tables"].values())
        done = "whole" if options["check"] else "restored, and every lot adds up"
        self.stdout.write(f"{told['library']}, {told['made_at']}: {rows} rows, {done}.")
