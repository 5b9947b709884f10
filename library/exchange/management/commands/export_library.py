"""``manage.py export_library FILE``: the documented tables."""

from __future__ import annotations

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from library.exchange.whole.writing import write_library


class Command(BaseCommand):
    help = "Writes what the library knows of its seed as CSV and JSON with a description."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, **options) -> None:
        path: Path = options["file"]
        try:
            with path.open("xb") as file:
                counts = write_library(file, on=timezone.localdate())
        except FileExistsError as error:
            raise CommandError(f"{path} is there already; give another name.") from error
        self.stdout.write(f"{path}: {sum(counts.values())} rows of {len(counts)} tables.")
