"""Recurring jobs: whose turn it is, decided in the database.

The embedded runner and Celery beat both come here every few seconds. A compare-and-swap on the
time of the last run gives each run to one of them, however many there are.
"""

from __future__ import annotations

import datetime as dt
import logging

from django.utils import timezone
from django.utils.module_loading import import_string

from library.outbox.jobs import Job
from library.outbox.models import Periodic

log = logging.getLogger(__name__)


def run_if_due(job: Job, *, now: dt.datetime | None = None) -> bool:
    """Run the job if it is due and nobody else took this turn; True when it ran.

    What the job raises is logged and kept beside it, and ends nothing else.
    """
    now = now or timezone.now()
    row, _made = Periodic.objects.get_or_create(name=job.name)
    if not job.is_due(row.last_run_at, now):
        return False
    unchanged = Periodic.objects.filter(pk=row.pk, last_run_at=row.last_run_at)
    if not unchanged.update(last_run_at=now):
        return False
    try:
        import_string(job.task)()
    except Exception as error:
        log.exception("The job “%s” failed; it will run again at its time.", job.name)
        _finish(row, f"{type(error).__name__}: {error}"[:2000])
    else:
        _finish(row, "")
    return True


def _finish(row: Periodic, error: str) -> None:
    mine = Periodic.objects.filter(pk=row.pk)
    if error:
        mine.update(last_error=error)
    else:
        mine.update(last_error="", last_finished_at=timezone.now())
