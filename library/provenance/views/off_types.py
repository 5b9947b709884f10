"""How true a lot is: its links judged, off-types reported, and reports dealt with."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.access import CataloguePage, CoordinatorPage
from accounts.roles import BORROW, COORDINATE
from library.provenance import services
from library.provenance.chain import chain_up
from library.provenance.forms import OffTypesForm, WhyForm
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.purity import cautions_about, details_for_coordinator, judge
from library.provenance.warnings import warnings_of
from library.stock.models import Lot
from library.stock.service_pages import ServicePage


class OffTypesPage(CataloguePage, ServicePage):
    """Everything that is known of a lot's trueness; a member reports what they saw."""

    template_name = "provenance/off_types.html"
    form_class = OffTypesForm
    submit = gettext_lazy("Report off-types")
    done = gettext_lazy("Thank you. The report warns of this lot and of all grown from it.")

    def post(self, request, *args, **kwargs):
        if not request.user.is_authenticated:
            return self.handle_no_permission()
        if not request.user.has_perm(BORROW):
            raise Http404
        return super().post(request, *args, **kwargs)

    @cached_property
    def lot(self) -> Lot:
        lots = Lot.objects.visible_to(self.request.user).with_variety()
        return get_object_or_404(lots, number=self.kwargs["number"])

    def act(self, asked: dict[str, Any]):
        return services.report_off_types(
            lot=self.lot, by=self.request.user, on=timezone.localdate(), **asked
        )

    def where_next(self, result: OffTypeReport) -> str:
        return page_of(self.lot)

    def back_to(self) -> str:
        return self.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        variety = self.lot.variety
        return [
            (variety.get_absolute_url(), variety.name),
            (self.lot.get_absolute_url(), self.lot.number),
            (reverse("lot-chain", args=[self.lot.number]), _("Where it came from")),
        ]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        user, lot = self.request.user, self.lot
        chain = chain_up(lot)
        coordinates = user.has_perm(COORDINATE)
        purity, warnings = judge(chain, for_coordinator=coordinates), warnings_of(lot)
        doubted = [link.lot for link in purity.weak] + ([lot] if warnings else [])
        clearances = OffTypeClearance.objects.filter(lot=lot).with_people()
        return super().get_context_data(
            lot=lot,
            purity=purity,
            warnings=warnings,
            lifted=lot.off_type_reports.lifted().with_people(),
            clearances=clearances.select_related("report__lot"),
            cautions=cautions_about(doubted),
            near=details_for_coordinator(chain) if coordinates else [],
            coordinates=coordinates,
            may_report=user.has_perm(BORROW),
            **kwargs,
        )


class _OneReport(CoordinatorPage, ServicePage):
    """A form that deals with one report; done, it leads back to the lot's page."""

    form_class = WhyForm
    template_name = "provenance/off_types_deal.html"

    @cached_property
    def report(self) -> OffTypeReport:
        rows = OffTypeReport.objects.with_people().select_related("lot__variety")
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    @property
    def about(self) -> Lot:
        return self.report.lot

    def back_to(self) -> str:
        return page_of(self.about)

    def crumbs(self) -> list[tuple[str, str]]:
        lot = self.about
        return [(lot.get_absolute_url(), lot.number), (page_of(lot), _("Off-types"))]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(report=self.report, about=self.about, **kwargs)


class LiftPage(_OneReport):
    heading = gettext_lazy("Lift a report of off-types")
    lead = gettext_lazy(
        "It then warns of no lot any more. It stays readable, with your reason and your name."
    )
    submit = gettext_lazy("Lift the report")
    done = gettext_lazy("Lifted.")

    def act(self, asked: dict[str, Any]):
        return services.lift_report(
            report=self.report, by=self.request.user, on=timezone.localdate(), **asked
        )


class ClearPage(_OneReport):
    """One descendant was found true: the report goes no further through it."""

    lead = gettext_lazy(
        "The report then goes no further through this lot. It still warns of the lot in which "
        "off-types were seen, and of whatever came from that by other ways."
    )
    submit = gettext_lazy("Clear the lot")
    done = gettext_lazy("Cleared.")

    @property
    def heading(self) -> str:
        return _("Clear lot %(lot)s of a report") % {"lot": self.about.number}

    @cached_property
    def cleared(self) -> Lot:
        return get_object_or_404(Lot.objects.with_variety(), number=self.kwargs["number"])

    @property
    def about(self) -> Lot:
        return self.cleared

    def act(self, asked: dict[str, Any]):
        return services.clear_of_report(
            report=self.report,
            lot=self.cleared,
            by=self.request.user,
            on=timezone.localdate(),
            **asked,
        )


def page_of(lot: Lot) -> str:
    return reverse("lot-off-types", args=[lot.number])
