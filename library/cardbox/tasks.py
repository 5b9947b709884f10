"""The card box's background work as a Celery task; embedded mode calls it in place."""

from __future__ import annotations

from celery import shared_task
from django.conf import settings

from library.cardbox.running import begin_in_background, claim_next, work_on
from library.outbox import worker


@shared_task
def work_on_card_imports() -> bool:
    """Take up an import that has work to do: in a thread beside the embedded runner; in a
    Celery worker right here, until it is done.
    """
    if not settings.REDIS_URL:
        return begin_in_background(worker=worker.name())
    card_import = claim_next(worker=worker.name())
    if card_import is not None:
        work_on(card_import)
    return card_import is not None
