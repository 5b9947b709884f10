"""`/metrics`: the server's own figures as Prometheus text.

All of them are read from the database when asked, so several web processes say the same and
none keeps anything. Who sends ``Authorization: Bearer <SOWBACK_METRICS_TOKEN>`` reads them;
without that setting there is no such page. "Only from this machine" would be no guard: behind
a proxy on the same machine everybody comes from there.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.conf import settings
from django.db.models import Count, Max, Min, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.registry import Collector

from library.config.health import LATE_AFTER
from library.config.schedule import JOBS
from library.outbox.models import Message, Periodic
from library.reminders.models import Reminder


@require_safe
@never_cache
def metrics(request: HttpRequest) -> HttpResponse:
    if not settings.METRICS_TOKEN:
        raise Http404
    given = request.headers.get("Authorization", "")
    if not constant_time_compare(given, f"Bearer {settings.METRICS_TOKEN}"):
        answer = HttpResponse("A bearer token is needed.\n", status=401)
        answer["WWW-Authenticate"] = 'Bearer realm="metrics"'
        return answer
    registry = CollectorRegistry()  # of this request: nothing of the process is told
    registry.register(BackgroundWork(timezone.now()))
    return HttpResponse(generate_latest(registry), content_type=CONTENT_TYPE_PLAIN_0_0_4)


class BackgroundWork(Collector):
    """Jobs, mail and reminders as they are at a moment. Times are in seconds."""

    def __init__(self, now: dt.datetime) -> None:
        self.now = now

    def collect(self) -> Iterator[Metric]:
        yield from self._jobs()
        yield from self._mail()
        yield self._reminders()

    def _jobs(self) -> Iterator[Metric]:
        rows = {row.name: row for row in Periodic.objects.all()}
        lag = _gauge("job_lag_seconds", "Since the recurring job last ended well.", "job")
        failing = _gauge("job_failing", "1 when its last turn failed.", "job")
        late = _gauge("job_late_after_seconds", "With more lag /healthz is red.", "job")
        for job in JOBS:
            row = rows.get(job.name)
            if row and row.last_finished_at:
                lag.add_metric([job.name], self._age(row.last_finished_at))
            failing.add_metric([job.name], float(bool(row and row.last_error)))
            if job.name in LATE_AFTER:
                late.add_metric([job.name], LATE_AFTER[job.name].total_seconds())
        yield from (lag, failing, late)

    def _mail(self) -> Iterator[Metric]:
        open_ones = Message.objects.waiting().aggregate(
            ready=Count("pk", filter=Q(claimed_at=None, not_before__lte=self.now)),
            deferred=Count("pk", filter=Q(claimed_at=None, not_before__gt=self.now)),
            claimed=Count("pk", filter=Q(claimed_at__isnull=False)),
            tried=Count("pk", filter=Q(attempts__gt=0, claimed_at=None)),
            oldest=Min("created_at"),
            oldest_ready=Min("not_before", filter=Q(claimed_at=None, not_before__lte=self.now)),
        )
        ended = Message.objects.aggregate(
            sent=Count("sent_at"), failed=Count("failed_at"), dropped=Count("dropped_at"),
            last_sent=Max("sent_at"),
        )  # fmt: skip
        mail = _gauge("mail_messages", "Mail by state.", "state")
        for state in ("ready", "deferred", "claimed"):
            mail.add_metric([state], open_ones[state])
        for state in ("sent", "failed", "dropped"):
            mail.add_metric([state], ended[state])
        yield mail
        yield _one("mail_retrying", "Waiting mail that was tried in vain.", open_ones["tried"])
        yield _one(
            "mail_oldest_waiting_seconds",
            "Since the oldest waiting mail was written; 0 when none waits.",
            self._age(open_ones["oldest"]),
        )
        yield _one(
            "mail_oldest_ready_seconds",
            "Since when the oldest mail nobody took could have gone; 0 when none is ready.",
            self._age(open_ones["oldest_ready"]),
        )
        if ended["last_sent"]:
            yield _one(
                "mail_last_sent_seconds", "Since mail last went.", self._age(ended["last_sent"])
            )

    def _reminders(self) -> Metric:
        counted = Reminder.objects.aggregate(
            planned=Count("pk"),
            queued=Count("queued_at"),
            withdrawn=Count("withdrawn_at"),
            sent=Count("message__sent_at"),
            failed=Count("message__failed_at"),
        )
        states = _gauge("reminders", "Reminders planned, and what became of them.", "state")
        for state, number in counted.items():
            states.add_metric([state], number)
        return states

    def _age(self, moment: dt.datetime | None) -> float:
        return max((self.now - moment).total_seconds(), 0.0) if moment else 0.0


def _gauge(name: str, what: str, *labels: str) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"sowback_{name}", what, labels=labels)


def _one(name: str, what: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"sowback_{name}", what, value=value)
