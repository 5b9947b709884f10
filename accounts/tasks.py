"""What recurs among people."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from accounts.services import forget_unconfirmed


@shared_task
def forget_unconfirmed_applications() -> int:
    return forget_unconfirmed(now=timezone.now())
