"""What the pages about one lot and about one test share."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _

from accounts.access import DeskPage
from library.germination import forms
from library.germination.method import method_of, suggested_size
from library.germination.models import GerminationTest
from library.stock.models import Lot
from library.stock.service_pages import ServicePage


class AboutALot(DeskPage, ServicePage):
    """A page about testing one lot."""

    @cached_property
    def lot(self) -> Lot:
        lots = Lot.objects.with_variety().prefetch_related("variety__crop__species__figures")
        return get_object_or_404(lots, number=self.kwargs["number"])

    @cached_property
    def size(self):
        return suggested_size(self.lot)

    def back_to(self) -> str:
        return self.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [
            (self.lot.variety.get_absolute_url(), self.lot.variety.name),
            (self.lot.get_absolute_url(), self.lot.number),
        ]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        facts = {"lot": self.lot, "figures": method_of(self.lot), "size": self.size}
        return super().get_context_data(**facts | kwargs)


class AboutATest(DeskPage):
    """A page about something done to one test."""

    def tests(self) -> QuerySet[GerminationTest]:
        return GerminationTest.objects.with_results()

    @cached_property
    def test(self) -> GerminationTest:
        return get_object_or_404(self.tests(), pk=self.kwargs["pk"])

    def back_to(self) -> str:
        return reverse("test", args=[self.kwargs["pk"]])

    def crumbs(self) -> list[tuple[str, str]]:
        lot = self.test.lot
        return [(lot.get_absolute_url(), lot.number), (self.back_to(), self.name)]

    @property
    def name(self) -> str:
        return _("Test %(number)s") % {"number": self.test.pk}


class DoneToATest(AboutATest, ServicePage):
    """A form that does something to one test."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lot = self.test.lot
        facts = {"test": self.test, "lot": lot, "figures": method_of(lot)}
        return super().get_context_data(**facts | kwargs)


class WithDishes(ServicePage):
    """A form beside one row of counts for each dish."""

    template_name = "germination/dishes.html"
    counted: forms.DishFormSet

    def dishes(self, data: Any = None) -> forms.DishFormSet:
        raise NotImplementedError

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        form, self.counted = self.get_form(), self.dishes(request.POST)
        # Both are looked at, so that every mistake is said at once.
        if all([form.is_valid(), self.counted.is_valid()]):
            return self.form_valid(form)
        return self.form_invalid(form)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        shown = getattr(self, "counted", None)
        return super().get_context_data(
            dishes=self.dishes() if shown is None else shown, **kwargs
        )
