"""What the library counts on a lot for, and whether it goes on being lent."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.access import CoordinatorPage, DeskPage
from library.germination import forms, services
from library.germination.models import LotEstimate, PlannedSowing
from library.germination.views.common import AboutALot
from library.stock.models import Lot
from library.stock.service_pages import ServicePage


class AddSowingPage(AboutALot):
    """Say that a lot is to be sown: it is tested in time for that."""

    form_class = forms.SowingForm
    heading = gettext_lazy("To be sown")
    lead = gettext_lazy("A lot that somebody counts on is tested in time to sow more of it.")
    submit = gettext_lazy("Keep it")
    done = gettext_lazy("Kept; the lot's next test takes it into account.")

    def get_initial(self) -> dict[str, Any]:
        return {"on": None}  # today is the one day it cannot be

    def act(self, asked: dict[str, Any]) -> PlannedSowing:
        return services.expect_sowing(lot=self.lot, by=self.request.user, **asked)


class DropSowingPage(DeskPage, ServicePage):
    form_class = forms.DropForm
    heading = gettext_lazy("Not to be sown after all")
    submit = gettext_lazy("Drop it")
    done = gettext_lazy("Dropped; the lot's next test takes it into account.")

    @cached_property
    def sowing(self) -> PlannedSowing:
        sowings = PlannedSowing.objects.select_related("lot__variety")
        return get_object_or_404(sowings, pk=self.kwargs["pk"])

    @property
    def lead(self) -> str:
        words = _("%(variety)s was to be sown on %(on)s for: %(what)s.")
        return words % {
            "variety": self.sowing.lot.variety.name,
            "on": date_format(self.sowing.on),
            "what": self.sowing.what_for,
        }

    def back_to(self) -> str:
        return self.sowing.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), self.sowing.lot.number)]

    def act(self, asked: dict[str, Any]) -> None:
        services.drop_sowing(sowing=self.sowing, by=self.request.user)


class ShelfPage(CoordinatorPage, ServicePage):
    """The coordinator's word on a lot that should be regrown."""

    template_name = "germination/shelf.html"
    form_class = forms.ShelfForm
    heading = gettext_lazy("Keep lending it?")
    submit = gettext_lazy("Decide")
    done = gettext_lazy("Decided.")

    @cached_property
    def lot(self) -> Lot:
        return get_object_or_404(Lot.objects.with_variety(), number=self.kwargs["number"])

    def back_to(self) -> str:
        return self.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), self.lot.number)]

    def act(self, asked: dict[str, Any]) -> Any:
        return services.decide_shelf(lot=self.lot, by=self.request.user, **asked)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            lot=self.lot,
            estimate=LotEstimate.objects.filter(lot=self.lot).first(),
            decisions=self.lot.shelf_decisions.select_related("decided_by"),
            **kwargs,
        )
