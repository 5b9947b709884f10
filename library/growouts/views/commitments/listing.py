"""All offers and promises of a season, and asking a grower without a plan; for coordinators."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage
from library.growouts.commitments.listing import listed, with_late_steps
from library.growouts.forms.commitments import AskForm
from library.growouts.models import Commitment
from library.growouts.services import commitments as services
from library.growouts.views.seasons.base import OneSeason
from library.stock.service_pages import ServicePage

PER_PAGE = 30
LATE, OPEN_FAILURES = "late", "not_taken_over"


class SeasonCommitmentsPage(CoordinatorPage, OneSeason, TemplateView):
    """Who was asked what, how it stands, and what is late."""

    template_name = "growouts/commitments/list.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        today, shown = timezone.localdate(), self.request.GET.get("show", "")
        rows = self.season.commitments.order_by("variety__folded_name", "pk")
        if shown == LATE:
            rows = with_late_steps(rows, today)
        elif shown == OPEN_FAILURES:
            rows = rows.not_taken_over()
        elif shown in Commitment.State.values:
            rows = rows.filter(state=shown)
        page: Any = Paginator(rows, PER_PAGE).get_page(self.request.GET.get("page"))
        page.numbers = page.paginator.get_elided_page_range(page.number)
        return super().get_context_data(
            page_obj=page,
            rows=list(listed(page.object_list, on=today)),
            shown=shown,
            choices=[
                ("", _("everything")),
                (LATE, _("with a step that is late")),
                (OPEN_FAILURES, _("failed, and not taken over")),
                *Commitment.State.choices,
            ],
            found=page.paginator.count,
            **kwargs,
        )


class AskPage(CoordinatorPage, OneSeason, ServicePage):
    """A grower is asked for one variety without a plan."""

    form_class = AskForm
    heading = _("Ask a grower")
    lead = _("They are told by mail all that they must know, and can say no.")
    submit = _("Ask")
    done = _("Asked.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "season": self.season}

    def get_initial(self) -> dict[str, Any]:
        return {"variety": self.request.GET.get("variety", "")}

    def act(self, asked: dict[str, Any]) -> Commitment:
        room = asked.pop("garden_offer")
        return services.ask_grower(
            season=self.season,
            garden=room.garden,
            on=timezone.localdate(),
            by=self.request.user,
            **asked,
        )

    def where_next(self, result: Commitment) -> str:
        return result.get_absolute_url()

    def back_to(self) -> str:
        return reverse("season-commitments", args=[self.season.year])

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.season.get_absolute_url(), str(self.season.year))]
