"""A print job is made in the background, may be stopped, and survives whoever worked on it."""

from __future__ import annotations

import datetime as dt
import logging
import threading
import time
from collections.abc import Collection

from django.db import connections
from django.db.models import F, Q
from django.utils import timezone, translation

from accounts.middleware import zone_of
from library.outbox import worker as this_process
from library.paper.asking import content_of
from library.paper.models import PrintJob
from library.paper.typeset import typeset

log = logging.getLogger(__name__)

SILENT_FOR = dt.timedelta(seconds=60)  # then its worker is taken to be dead
NOTES_EVERY_S = 0.5
MOST_TRIES = 3  # workers that may die of one job
State = PrintJob.State


class _Stopped(Exception):
    """Somebody asked to stop, or another worker took it."""


class _HandedBack(Exception):
    """This process ends; another takes the job up again."""


def claim_next(*, worker: str, here: Collection[int] | None = None) -> PrintJob | None:
    """Take a job that waits, or whose worker died; of any number who ask, one gets it.

    ``here`` are the jobs that this process works on, told by a process that is alone under its
    name: what else is claimed under it was left by a process that is gone.
    """
    now = timezone.now()
    dead = Q(heard_at=None) | Q(heard_at__lt=now - SILENT_FOR)
    if here is not None:
        dead |= Q(worker=worker) & ~Q(pk__in=here)
    free = Q(state=State.WAITING) | Q(state=State.WORKING) & dead
    rows = PrintJob.objects.filter(free).order_by("pk")
    for pk, tries in list(rows.values_list("pk", "tries")):
        mine = PrintJob.objects.filter(free, pk=pk, tries=tries)
        if tries >= MOST_TRIES:
            why = f"its worker ended {MOST_TRIES} times in the middle of it"
            mine.update(state=State.FAILED, finished_at=now, trouble=why)
        elif mine.update(
            state=State.WORKING, worker=worker, heard_at=now, made=0, tries=F("tries") + 1
        ):
            return PrintJob.objects.select_related("asked_by").get(pk=pk)
    return None


def work_on(job: PrintJob) -> None:
    """Make a claimed job to its end. Never call it in a transaction: it takes seconds."""
    mine = PrintJob.objects.filter(
        pk=job.pk, state=State.WORKING, worker=job.worker, tries=job.tries
    )
    try:
        with translation.override(job.language), timezone.override(zone_of(job.asked_by)):
            data = content_of(job.given, by=job.asked_by, progress=_Notes(mine))
            content = typeset(job.kind, data)
        _look(mine, job.total)
        mine.update(
            state=State.DONE, content=content, made=job.total, finished_at=timezone.now()
        )
    except _Stopped:
        mine.update(state=State.STOPPED, finished_at=timezone.now())
    except _HandedBack:
        mine.update(state=State.WAITING, heard_at=None, tries=F("tries") - 1)
    except Exception as error:
        log.exception("The print job %s failed.", job.pk)
        trouble = f"{type(error).__name__}: {error}"[:2000]
        mine.update(state=State.FAILED, finished_at=timezone.now(), trouble=trouble)


class _Notes:
    """Hears how many were made; notes it twice a second and looks whether to stop."""

    def __init__(self, mine) -> None:
        self.mine = mine
        self.noted_at = time.monotonic()

    def __call__(self, made: int) -> None:
        if time.monotonic() - self.noted_at >= NOTES_EVERY_S:
            _look(self.mine, made)
            self.noted_at = time.monotonic()


def _look(mine, made: int) -> None:
    if this_process.stopping.is_set() or not threading.main_thread().is_alive():
        raise _HandedBack
    if not mine.filter(stop_asked_at=None).update(made=made, heard_at=timezone.now()):
        raise _Stopped


_here: set[int] = set()  # the jobs that threads of this process work on


def begin_in_background(*, worker: str) -> bool:
    """Claim a job and work on it in a thread; False when none waits or one is worked on.

    For the embedded runner, which is alone under its name.
    """
    if _here:
        return False  # one after the other: typesetting takes a whole core
    job = claim_next(worker=worker, here=_here)
    if job is None:
        return False
    _here.add(job.pk)
    threading.Thread(target=_in_thread, args=[job], name="paper", daemon=False).start()
    return True


def _in_thread(job: PrintJob) -> None:
    try:
        work_on(job)
    finally:
        _here.discard(job.pk)
        this_process.woken.set()  # the next one may wait already
        connections.close_all()
