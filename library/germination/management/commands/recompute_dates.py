"""``manage.py recompute_dates``: every estimate and test day computed again, for today."""

from __future__ import annotations

import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from accounts.middleware import zone_of
from library.germination.recompute import Recomputed, recompute


class Command(BaseCommand):
    help = (
        "Computes the viability and the test day of every lot that has seed, as of today. "
        "Ctrl-C stops it after the lots in hand; started again, it goes on from there."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--again", action="store_true", help="begin anew although today's lots are done"
        )

    def handle(self, *, again: bool = False, **options: Any) -> None:
        stopping = threading.Event()
        before = signal.signal(signal.SIGINT, lambda *_: stopping.set())
        try:
            done = recompute(
                on=timezone.localdate(timezone=zone_of(None)),
                again=again,
                progress=self._show,
                stop=stopping.is_set,
            )
        finally:
            signal.signal(signal.SIGINT, before)
        self.stdout.write(self._sentence(done))

    def _show(self, so_far: Recomputed) -> None:
        if self.stderr.isatty():
            self.stderr.write(f"\r{so_far.lots} of {so_far.total} lots", ending="")
            if so_far.finished:
                self.stderr.write("")

    def _sentence(self, done: Recomputed) -> str:
        lots = f"{done.lots} of {done.total} lots are computed for {done.on}"
        moved = f"{done.moved} test days moved"
        if done.finished:
            return f"{lots}; {moved}."
        return f"Stopped: {lots}; {moved}. Run it again to go on."
