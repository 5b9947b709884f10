"""Embedded mode's background work: one thread that calls the task functions in place.

A lock on a file in the data directory keeps it the only one; what it had claimed when it was
killed is freed when it starts again, since nobody else can be working under its name.
"""

from __future__ import annotations

import fcntl
import logging
import os
import threading
import uuid
from collections.abc import Sequence
from pathlib import Path

from django.db import close_old_connections, connections

from library.outbox import services, worker
from library.outbox.jobs import Job
from library.outbox.periodic import run_if_due
from library.outbox.tasks import sweep_outbox

log = logging.getLogger(__name__)

PAUSE_SECONDS = 5.0


class RunnerBusy(Exception):
    """Another process holds the lock of this data directory."""


class Runner:
    def __init__(
        self, *, jobs: Sequence[Job], lock: Path, pause: float = PAUSE_SECONDS
    ) -> None:
        self.jobs = jobs
        self.lock_path = lock
        self.pause = pause
        self._lock_file: int | None = None
        self._thread: threading.Thread | None = None
        self._name = ""

    def take_lock(self) -> None:
        """Become the only runner of the data directory, or raise RunnerBusy."""
        file = os.open(self.lock_path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(file)
            raise RunnerBusy from error
        self._lock_file = file
        self._name = _name_kept_in(file)

    def start(self) -> None:
        if self._lock_file is None:
            self.take_lock()
        worker.be_known_as(self._name)
        worker.stopping.clear()
        services.hand_back(worker=self._name)
        self._thread = threading.Thread(target=self._run, name="runner", daemon=True)
        self._thread.start()

    def stop(self, *, patience: float = 8.0) -> bool:
        """Finish the current job, or hand back its mail; True when it finished in time."""
        worker.stopping.set()
        worker.woken.set()
        finished = True
        if self._thread is not None:
            self._thread.join(patience)
            finished = not self._thread.is_alive()
        if not finished:
            services.hand_back(worker=self._name)
        if self._lock_file is not None and finished:
            os.close(self._lock_file)
            self._lock_file = None
        return finished

    def _run(self) -> None:
        while not worker.stopping.is_set():
            was_woken = worker.woken.is_set()
            if was_woken:
                # Before the work: mail that is queued meanwhile wakes the next round.
                worker.woken.clear()
            self._round(sweep_first=was_woken)
            worker.woken.wait(self.pause)
        connections.close_all()

    def _round(self, *, sweep_first: bool) -> None:
        try:
            close_old_connections()
            if sweep_first:
                sweep_outbox()
            for job in self.jobs:
                if worker.stopping.is_set():
                    return
                run_if_due(job)
        except Exception:  # the database is away, most likely; try again after the pause
            log.exception("The runner's round was cut short; the next begins shortly.")
            connections.close_all()


def _name_kept_in(file: int) -> str:
    """The runner's name in the data directory: made once, the same after every restart."""
    kept = os.pread(file, 80, 0).decode("ascii", "ignore").strip()
    if not kept:
        kept = f"embedded-{uuid.uuid4().hex[:12]}"
        os.pwrite(file, kept.encode(), 0)
    return kept
