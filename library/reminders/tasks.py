"""Planning reminders as a Celery task; embedded mode calls the same function in place."""

from __future__ import annotations

import datetime as dt

from celery import shared_task
from django.utils import timezone

from accounts.middleware import zone_of
from library.reminders import services


@shared_task
def plan_reminders() -> int:
    """Plan for today, where each member is."""
    return services.plan_reminders(at=timezone.now())


def day_at_the_library(moment: dt.datetime) -> dt.date:
    return moment.astimezone(zone_of(None)).date()
