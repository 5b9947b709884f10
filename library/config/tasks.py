"""Housekeeping, and the task through which Celery beat runs every recurring job."""

from __future__ import annotations

from celery import shared_task
from django.contrib.sessions.backends.db import SessionStore
from django.utils import timezone

from accounts.idempotency import forget_old_keys
from library.config.schedule import job_named
from library.outbox.periodic import run_if_due


@shared_task
def run_periodic(name: str) -> bool:
    """Run this job of the schedule if it is its time; a name of another version is ignored."""
    job = job_named(name)
    return job is not None and run_if_due(job)


@shared_task
def forget_idempotency_keys() -> int:
    return forget_old_keys(now=timezone.now())


@shared_task
def clear_sessions() -> None:
    """Delete sessions that have expired."""
    SessionStore.clear_expired()
