"""``manage.py load_reference``: what the fixtures tell of species and crops."""

from __future__ import annotations

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from library.catalogue.reference import DIRECTORY, load_reference
from library.errors import Refused


class Command(BaseCommand):
    help = "Bring the reference data in step with its files. Doing it twice does no harm."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--directory", type=Path, default=DIRECTORY)
        parser.add_argument(
            "--force", action="store_true", help="Read the files even when they are unchanged."
        )

    def handle(self, *, directory: Path, force: bool, **options) -> None:
        try:
            load = load_reference(directory=directory, force=force)
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        if not load.changed:
            self.stdout.write(_("The reference data is as it was."))
            return
        self.stdout.write(
            _(
                "Read %(species)s species with %(figures)s figures, %(crops)s crops, "
                "%(cautions)s cautions and the viability constants of %(constants)s species."
            )
            % vars(load)
        )
