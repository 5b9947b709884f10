"""``manage.py verify_stock``: add everything up again and say what does not fit."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from library.stock.checks import problems
from library.stock.models import Lot


class Command(BaseCommand):
    help = "Computes every balance, packet count and share again, and names what does not fit."

    def handle(self, **options) -> None:
        found = list(problems())
        for sentence in found:
            self.stderr.write(sentence)
        if found:
            raise CommandError(f"{len(found)} things do not add up.")
        self.stdout.write(f"{Lot.objects.count()} lots add up.")
