"""All test days computed again, on request."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.access import CoordinatorPage
from library.germination import forms
from library.germination.models import Recompute
from library.germination.recompute import ask_recompute
from library.stock.service_pages import ServicePage


class RecomputePage(CoordinatorPage, ServicePage):
    """How far the round of today is; asks for another."""

    template_name = "germination/recompute.html"
    form_class = forms.DropForm
    heading = gettext_lazy("All test days")
    lead = gettext_lazy(
        "The estimate and the test day of every lot are computed again each night. After a "
        "change of the rules you need not wait for that."
    )
    submit = gettext_lazy("Compute them now")
    done = gettext_lazy("Asked for; the background work begins with it within a minute.")

    def act(self, asked: dict[str, Any]) -> Recompute:
        return ask_recompute(by=self.request.user)

    def where_next(self, result: Recompute) -> str:
        return reverse("bench-recompute")

    def back_to(self) -> str:
        return reverse("bench-rules")

    def crumbs(self) -> list[tuple[str, str]]:
        return [(reverse("bench"), _("The bench")), (self.back_to(), _("Rules of the bench"))]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(round=Recompute.current(), **kwargs)
