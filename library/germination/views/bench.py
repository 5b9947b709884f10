"""The bench: what is to be tested, being tested, or regrown; and its rules."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage
from library.germination import forms, services
from library.germination.dates import DISAGREE
from library.germination.method import suggested_size
from library.germination.models import (
    BenchRules,
    GerminationTest,
    LotEstimate,
    TestDate,
)
from library.germination.pictures.calendar import calendar
from library.germination.progress import counts_ahead
from library.germination.words import alive_briefly
from library.stock.service_pages import ServicePage

LOOKS_AHEAD = dt.timedelta(days=90)
MOST_SHOWN = 200


class BenchPage(CoordinatorPage, TemplateView):
    template_name = "germination/bench.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        today = timezone.localdate()
        waiting = _waiting()
        to_repeat = waiting.with_seed().filter(rule=DISAGREE)
        coming = waiting.due(today + LOOKS_AHEAD).exclude(rule=DISAGREE)
        again, due = _due_rows(to_repeat), _due_rows(coming)
        tests, regrow = GerminationTest.objects.with_lot(), _to_regrow()
        return super().get_context_data(
            today=today,
            again=again,
            overdue=[row for row in due if row["date"].due_on < today],
            soon=[row for row in due if row["date"].due_on >= today],
            lots=len(again) + len(due),
            left_out=_left_out(to_repeat, again) + _left_out(coming, due),
            cost=sum(row["size"].seeds for row in [*again, *due]),
            planned=tests.planned().order_by("started_on", "pk"),
            running=_running_rows(tests.running(), today),
            regrow=regrow,
            regrow_left_out=_left_out(LotEstimate.objects.fallen(), regrow),
            rules=BenchRules.current(),
            calendar=calendar(today),
            **kwargs,
        )


def _waiting():
    """Days of lots of which no test is running or planned."""
    planned = GerminationTest.objects.planned().filter(lot=OuterRef("lot"))
    return TestDate.objects.being_tested(False).filter(~Exists(planned)).with_lot()


def _due_rows(dates) -> list[dict[str, Any]]:
    shown = dates.order_by("due_on", "pk")[:MOST_SHOWN]
    return [{"date": d, "lot": d.lot, "size": suggested_size(d.lot)} for d in shown]


def _left_out(rows, shown: list) -> int:
    """How many more there are than a section shows; counted only where it is full."""
    return rows.count() - len(shown) if len(shown) == MOST_SHOWN else 0


def _running_rows(tests, today: dt.date) -> list[dict[str, Any]]:
    loaded = tests.prefetch_related("replicates__day_counts").order_by("started_on", "pk")
    rows = []
    for test in loaded:
        following = next(iter(counts_ahead(test)), None)
        rows.append(
            {
                "test": test,
                "next": following.sentence(today) if following else "",
                "is_due": bool(following and following.is_due(today)),
            }
        )
    return rows


def _to_regrow() -> list[tuple[LotEstimate, str]]:
    """Undecided first, the poorest first."""
    estimates = LotEstimate.objects.fallen().with_lot()
    shown = estimates.order_by("decided", "median", "pk")[:MOST_SHOWN]
    return [(estimate, alive_briefly(estimate)) for estimate in shown]


class RulesPage(CoordinatorPage, ServicePage):
    template_name = "germination/rules.html"
    form_class = forms.BenchRulesForm
    heading = gettext_lazy("Rules of the bench")
    done = gettext_lazy(
        "Kept. Days that are set stay until tonight, when all are computed again."
    )

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"instance": BenchRules.current()}

    def act(self, asked: dict[str, Any]) -> BenchRules:
        return services.save_bench_rules(by=self.request.user, **asked)

    def back_to(self) -> str:
        return reverse("bench")

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), _("The bench"))]
