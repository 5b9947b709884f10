"""The background work of grow-outs as Celery tasks; embedded mode calls them in place."""

from __future__ import annotations

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from accounts.middleware import zone_of
from library.growouts.plans.running import begin_in_background, claim_next, work_on
from library.growouts.services.commitments import lapse_unanswered
from library.outbox import worker


@shared_task
def work_on_plans() -> bool:
    """Take up a plan that waits: in a thread beside the embedded runner, whose other jobs go
    on; in a Celery worker right here, which is then busy with it for its time.
    """
    if not settings.REDIS_URL:
        return begin_in_background(worker=worker.name())
    plan = claim_next(worker=worker.name())
    if plan is not None:
        work_on(plan)
    return plan is not None


@shared_task
def lapse_offers() -> int:
    """Free the gardens of offers that nobody answered in time."""
    return lapse_unanswered(on=timezone.localdate(timezone=zone_of(None)))
