"""The daily recompute as a Celery task; embedded mode calls the same function in place."""

from __future__ import annotations

import time

from celery import shared_task
from django.utils import timezone

from accounts.middleware import zone_of
from library.germination.recompute import recompute
from library.outbox import worker

SLICE_SECONDS = 4.0  # then mail and the other jobs have their turn


@shared_task
def recompute_dates() -> int:
    """Go on with today's round for some seconds; the lots that are done of it so far.

    Asked several times a minute. When the round is over, or nothing is due, it costs one query.
    """
    until = time.monotonic() + SLICE_SECONDS
    today = timezone.localdate(timezone=zone_of(None))

    def stop() -> bool:
        return time.monotonic() > until or worker.stopping.is_set()

    return recompute(on=today, stop=stop).lots
