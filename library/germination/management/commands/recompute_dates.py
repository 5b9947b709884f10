"""``manage.py recompute_dates``: every estimate and test day computed again, for today."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
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
        parser.add_argument(
            "--processes", type=int, choices=(1, 2), default=1, help="to work from both ends"
        )
        parser.add_argument(
            "--from-end", action="store_true", help="as the second process, from the last lot"
        )

    def handle(
        self,
        *,
        again: bool = False,
        processes: int = 1,
        from_end: bool = False,
        **options: Any,
    ) -> None:
        today = timezone.localdate(timezone=zone_of(None))
        with _stopping() as stopping:
            recompute(on=today, again=again, stop=lambda: True)  # the round begins here
            with _another(processes > 1, stopping):
                done = recompute(
                    on=today, from_end=from_end, progress=self._show, stop=stopping.is_set
                )
        if self.stderr.isatty():
            self.stderr.write("")
        self.stdout.write(self._sentence(done))

    def _show(self, so_far: Recomputed) -> None:
        if self.stderr.isatty():
            self.stderr.write(f"\r{so_far.lots} of {so_far.total} lots", ending="")

    def _sentence(self, done: Recomputed) -> str:
        lots = f"{done.lots} of {done.total} lots are computed for {done.on}"
        moved = f"{done.moved} test days moved"
        if done.finished:
            return f"{lots}; {moved}."
        return f"Stopped: {lots}; {moved}. Run it again to go on."


@contextmanager
def _stopping() -> Iterator[threading.Event]:
    """Set by Ctrl-C, which then ends nothing by itself."""
    stopping = threading.Event()
    before = signal.signal(signal.SIGINT, lambda *_: stopping.set())
    try:
        yield stopping
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _another(wanted: bool, stopping: threading.Event) -> Iterator[None]:
    """A second process at the other end; should it fail, the first does its lots too."""
    if not wanted:
        yield
        return
    command = [sys.executable, "-m", "django", "recompute_dates", "--from-end"]
    paths = os.pathsep.join(filter(None, sys.path))
    second = subprocess.Popen(  # noqa: S603 (our own words)
        command, env=os.environ | {"PYTHONPATH": paths}, stdout=subprocess.DEVNULL
    )
    try:
        yield
    finally:
        if stopping.is_set():
            second.send_signal(signal.SIGINT)
        second.wait()
