"""What recurs, in embedded and in served mode alike."""

from __future__ import annotations

import datetime as dt

from library.outbox.jobs import Job

DAY = dt.timedelta(days=1)

JOBS = [
    Job("sweep outbox", "library.outbox.tasks.sweep_outbox", dt.timedelta(seconds=5)),
    Job(
        "plan reminders",
        "library.reminders.tasks.plan_reminders",
        dt.timedelta(hours=1),
        day_of="library.reminders.tasks.day_at_the_library",
    ),
    Job(
        "recompute test days",
        "library.germination.tasks.recompute_dates",
        dt.timedelta(seconds=15),  # some seconds of the day's round each time, until it is over
    ),
    Job("work on plans", "library.growouts.tasks.work_on_plans", dt.timedelta(seconds=3)),
    Job("print", "library.paper.tasks.work_on_print_jobs", dt.timedelta(seconds=2)),
    Job("forget print jobs", "library.paper.tasks.forget_print_jobs", DAY),
    Job(
        "work on card imports",
        "library.cardbox.tasks.work_on_card_imports",
        dt.timedelta(seconds=3),
    ),
    Job(
        "lapse offers",
        "library.growouts.tasks.lapse_offers",
        DAY,
        day_of="library.reminders.tasks.day_at_the_library",
    ),
    Job("forget old mail", "library.outbox.tasks.forget_old_mail", DAY),
    Job("forget idempotency keys", "library.config.tasks.forget_idempotency_keys", DAY),
    Job("clear sessions", "library.config.tasks.clear_sessions", DAY),
    Job(
        "forget unconfirmed applications",
        "accounts.tasks.forget_unconfirmed_applications",
        DAY,
    ),
]


def job_named(name: str) -> Job | None:
    return next((job for job in JOBS if job.name == name), None)
