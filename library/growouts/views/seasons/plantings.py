"""What I grow for myself: written down once a year, so that a plan can keep clear of it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView, View

from accounts.access import MemberPage
from library.growouts.forms.seasons import PlantingForm, planting_initial
from library.growouts.models import OwnPlanting, Season
from library.growouts.services import plantings as services
from library.growouts.views.seasons.base import Asked
from library.lending.views.base import VerbPage
from library.stock.service_pages import number_asked

ON_A_PAGE = 100
FIRST_YEAR, LAST_YEAR = 1900, 2200


class OfOneYear(Asked):
    """Of the year that the address asks for; else of the next season, else of this year."""

    @cached_property
    def year(self) -> int:
        asked = number_asked(self.request.GET.get("year", ""))
        if asked is not None and FIRST_YEAR <= asked <= LAST_YEAR:
            return asked
        years = Season.objects.open().filter(year__gte=self.today.year).order_by("year")
        return years.values_list("year", flat=True).first() or self.today.year


class PlantingsPage(MemberPage, OfOneYear, TemplateView):
    template_name = "growouts/seasons/plantings.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        own = OwnPlanting.objects.of(self.asker)
        rows = own.in_year(self.year).with_details().order_by("garden__name", "garden", "pk")
        page = Paginator(rows, ON_A_PAGE).get_page(self.request.GET.get("page"))
        years = set(own.order_by().values_list("year", flat=True).distinct())
        years |= set(Season.objects.open().values_list("year", flat=True))
        return super().get_context_data(
            year=self.year,
            years=sorted(years | {self.today.year, self.year}, reverse=True),
            page_obj=page,
            has_garden=self.asker.gardens.exists(),
            **kwargs,
        )


class PlantingNewPage(MemberPage, OfOneYear, VerbPage):
    template_name = "growouts/seasons/planting_form.html"
    form_class = PlantingForm
    done = gettext_lazy("Written down.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"gardens": self.asker.gardens.all()}

    def get_initial(self) -> dict[str, Any]:
        """The garden that the address names, else the usual one."""
        asked = number_asked(self.request.GET.get("garden", ""))
        gardens = list(self.asker.gardens.all())
        named = next((garden for garden in gardens if garden.pk == asked), None)
        usual = next((garden for garden in gardens if garden.is_default), None)
        return {"year": self.year, "garden": named or usual}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            year=self.year, has_garden=self.asker.gardens.exists(), **kwargs
        )

    def act(self, form: Any) -> str:
        garden = form.cleaned_data["garden"]
        made = services.add_planting(garden=garden, by=self.asker, **form.planted())
        if "again" in self.request.POST:
            here = reverse("growout-planting-new")
            return f"{here}?year={made.year}&garden={made.garden_id}"
        return _list_of(made.year)


class OnePlanting(MemberPage, Asked):
    """A page about one of the member's own plantings; another's is not there."""

    @cached_property
    def planting(self) -> OwnPlanting:
        own = OwnPlanting.objects.of(self.asker).with_details()
        return get_object_or_404(own, pk=self.kwargs["pk"])


class PlantingPage(OnePlanting, VerbPage):
    template_name = "growouts/seasons/planting_form.html"
    form_class = PlantingForm
    done = gettext_lazy("Saved.")

    def get_form_kwargs(self) -> dict[str, Any]:
        only = self.asker.gardens.filter(pk=self.planting.garden_id)
        return super().get_form_kwargs() | {"gardens": only}

    def get_initial(self) -> dict[str, Any]:
        return planting_initial(self.planting)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        planting = self.planting
        return super().get_context_data(
            planting=planting, year=planting.year, has_garden=True, **kwargs
        )

    def act(self, form: Any) -> str:
        changed = services.edit_planting(
            planting=self.planting, by=self.asker, **form.planted()
        )
        return _list_of(changed.year)


class PlantingRemove(OnePlanting, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        services.remove_planting(planting=self.planting, by=self.asker)
        messages.success(request, _("Removed."))
        return redirect(_list_of(self.planting.year))


def _list_of(year: int) -> str:
    return f"{reverse('growout-plantings')}?year={year}"
