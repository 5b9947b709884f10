"""Delivering mail as Celery tasks; embedded mode calls the same functions in place."""

from __future__ import annotations

from celery import shared_task

from library.outbox import services, worker


@shared_task
def deliver_mail(message_id: int) -> str:
    """Deliver one mail; nothing happens if it is gone or in other hands."""
    return services.deliver(message_id=message_id, worker=worker.name()).value


@shared_task
def sweep_outbox() -> int:
    """Deliver all that is ready: what a lost broker message left behind, too."""
    return services.sweep(worker=worker.name())


@shared_task
def forget_old_mail() -> int:
    return services.forget_old_mail()
