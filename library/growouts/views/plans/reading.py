"""A plan while it is worked on and when it is done; the plans of a season."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.views.generic import DetailView

from accounts.access import CoordinatorPage
from library.errors import Conflict
from library.growouts.forms.plans import AskForm
from library.growouts.models import Plan, Season
from library.growouts.plans import words
from library.growouts.plans.reading import PlanReading
from library.growouts.plans.trouble import trouble_of
from library.growouts.services import plans as services
from library.lending.views.base import VerbPage

ON_A_PAGE = 60
SHOWN_PLANS = 30


class PlanPage(CoordinatorPage, DetailView):
    """While it is worked on the page asks again by itself; then it shows who grows what."""

    template_name = "growouts/plans/plan.html"
    context_object_name = "plan"
    queryset = Plan.objects.select_related("season", "asked_by")

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if request.htmx and not self.object.is_at_work:
            response["HX-Refresh"] = "true"  # what was asked for is another page by now
        return response

    def get_template_names(self) -> list[str]:
        if self.request.htmx and self.object.is_at_work:
            return ["growouts/plans/includes/progress.html"]
        return [self.template_name]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        plan = self.object
        if plan.is_at_work:
            kwargs |= progress_of(plan)
        elif plan.state == Plan.State.FAILED:
            kwargs["trouble"] = trouble_of(plan)
        else:
            kwargs |= self._done(plan)
        return super().get_context_data(season=plan.season, **kwargs)

    def _done(self, plan: Plan) -> dict[str, Any]:
        by = "grower" if self.request.GET.get("by") == "grower" else "variety"
        reading = PlanReading(plan)
        rows: list[Any] = reading.by_grower if by == "grower" else reading.by_variety
        newer = plan.season.plans.ended_well().filter(pk__gt=plan.pk).first()
        return {
            "by": by,
            "page_obj": Paginator(rows, ON_A_PAGE).get_page(self.request.GET.get("page")),
            "left_out": reading.left_out,
            "wanted": len(reading.by_variety) + len(reading.left_out),
            "source": reading.source,
            "unknown": reading.unknown,
            "open_pairs": sum(row.is_open for row in reading.pairs),
            "quality": words.quality_in_words(plan),
            "by_hand": by_hand_of(plan),
            "method": words.METHODS.get(plan.method, plan.method),
            "newer": newer,
            "pins_since": plan.season.pins.filter(made_at__gt=plan.asked_at).count(),
        }


def progress_of(plan: Plan) -> dict[str, Any]:
    return {
        "percent": words.percent_of_time(plan),
        "stage": words.stage_in_words(plan),
        "stopping": plan.stop_asked_at is not None,
    }


def by_hand_of(plan: Plan) -> list[dict[str, Any]]:
    """What the ways of doing it by hand came to, beside which the plan is to be seen."""
    return [
        {"name": words.METHODS.get(name, name), **found}
        for name, found in sorted(plan.by_hand.items())
    ]


class PlansPage(CoordinatorPage, VerbPage):
    """The plans of a season, the newest first; and another one asked for."""

    template_name = "growouts/plans/plans.html"
    form_class = AskForm
    joined = False  # somebody else asked before

    @cached_property
    def season(self) -> Season:
        return get_object_or_404(Season, year=self.kwargs["year"])

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        plans = self.season.plans.defer("given", "best").select_related("asked_by")
        return super().get_context_data(
            season=self.season,
            plans=plans[:SHOWN_PLANS],
            at_work=self.season.plans.at_work().first(),
            pins=self.season.pins.count(),
            **kwargs,
        )

    def act(self, form: Any) -> Plan:
        try:
            return services.ask_plan(
                season=self.season,
                on=timezone.localdate(),
                by=self.asker,
                seconds=form.cleaned_data["seconds"],
            )
        except Conflict:
            at_work = self.season.plans.at_work().first()
            if at_work is None:
                raise
            self.joined = True
            return at_work

    def said(self, form: Any, target: Plan) -> str:
        if self.joined:
            return _("A plan is being worked on already: this one.")
        return ""


def plans_address(season: Season) -> str:
    return reverse("growout-plans", args=[season.year])
