"""`/healthz`: for the machine that watches this one.

Red (503) when the database does not answer, when no sweep of the outbox has ended for five
minutes and none is at work, or when no planning of reminders has ended for three hours. A
process that has just started says "starting" for three minutes instead: after a night switched
off everything is late, and the first round mends it.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import Error, connection
from django.db.models import Count, Max
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from library.outbox.models import Message, Periodic

SWEEP, PLANNING = "sweep outbox", "plan reminders"
LATE_AFTER = {SWEEP: dt.timedelta(minutes=5), PLANNING: dt.timedelta(hours=3)}
GRACE_SECONDS = 180
BEGAN = time.monotonic()


@dataclass(frozen=True)
class Pulse:
    """How one recurring job fares. ``seconds_ago`` is when it last ended well, None: never."""

    job: str
    state: str  # ok, late, starting
    seconds_ago: int | None


@require_safe
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """200 while the database answers and the background work is done, else 503."""
    try:
        waiting, last_claim = _mail()
        pulses = {pulse.job: pulse for pulse in read_pulses(last_claim, now=timezone.now())}
    except Error:
        connection.close()
        return JsonResponse({"database": "unreachable"}, status=503)
    body = {
        "database": "ok",
        "sweep": pulses[SWEEP].state,
        "planning": pulses[PLANNING].state,
        "last_sweep_seconds_ago": pulses[SWEEP].seconds_ago,
        "last_planning_seconds_ago": pulses[PLANNING].seconds_ago,
        "mail_waiting": waiting,
    }
    late = any(pulse.state == "late" for pulse in pulses.values())
    return JsonResponse(body, status=503 if late else 200)


def read_pulses(last_claim: dt.datetime | None, *, now: dt.datetime) -> Iterator[Pulse]:
    """``last_claim`` is when a mail that is being delivered was taken."""
    rows = {row.name: row for row in Periodic.objects.filter(name__in=LATE_AFTER)}
    for job, patience in LATE_AFTER.items():
        row = rows.get(job)
        ended = row.last_finished_at if row else None
        in_time = ended is not None and now - ended <= patience
        if not in_time and job == SWEEP and row and _is_at_work(row, last_claim, now):
            in_time = True  # five hundred mails to a slow server take longer than the patience
        state = "ok" if in_time else ("starting" if seconds_up() < GRACE_SECONDS else "late")
        yield Pulse(job, state, round((now - ended).total_seconds()) if ended else None)


def seconds_up() -> float:
    """How long this process has been running."""
    return time.monotonic() - BEGAN


def _is_at_work(row: Periodic, last_claim: dt.datetime | None, now: dt.datetime) -> bool:
    """A sweep has begun, has not ended, and took a mail not long ago."""
    begun = row.last_run_at is not None and (
        row.last_finished_at is None or row.last_run_at > row.last_finished_at
    )
    return begun and last_claim is not None and now - last_claim <= LATE_AFTER[SWEEP]


def _mail() -> tuple[int, dt.datetime | None]:
    found = Message.objects.waiting().aggregate(n=Count("pk"), last=Max("claimed_at"))
    return found["n"], found["last"]
