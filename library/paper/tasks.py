"""The background work of printing as Celery tasks; embedded mode calls them in place."""

from __future__ import annotations

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from library.outbox import worker
from library.paper.running import begin_in_background, claim_next, work_on
from library.paper.services import forget_old_jobs


@shared_task
def work_on_print_jobs() -> bool:
    """Make a print job that waits: in a thread beside the embedded runner, whose other jobs go
    on; in a Celery worker right here.
    """
    if not settings.REDIS_URL:
        return begin_in_background(worker=worker.name())
    job = claim_next(worker=worker.name())
    if job is not None:
        work_on(job)
    return job is not None


@shared_task
def forget_print_jobs() -> int:
    """Drop files that nobody needs any more."""
    return forget_old_jobs(now=timezone.now())
