"""Where seed is kept: the tree of places, and what lies in each."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView, TemplateView

from accounts.access import DeskPage
from library.catalogue.models import Crop, SpeciesFigure, Variety
from library.errors import Refused
from library.stock import forms, services
from library.stock.models import Lot, StoragePlace
from library.stock.places import PlaceTree
from library.stock.service_pages import ServicePage, number_asked

LOTS_ON_A_PAGE = 50


class StoragePage(DeskPage, TemplateView):
    template_name = "stock/storage.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        unplaced = Lot.objects.with_seed().filter(storage_place=None, custodian=None)
        return super().get_context_data(
            rows=list(PlaceTree().rows()), unplaced=unplaced.count(), **kwargs
        )


class StoragePlacePage(DeskPage, DetailView):
    """One place, with every lot that lies in it or in what it holds."""

    template_name = "stock/storage_place.html"
    model = StoragePlace
    context_object_name = "place"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        tree, pk = PlaceTree(), self.object.pk
        lots = Lot.objects.with_seed().lying_in(tree.within(pk)).with_variety()
        pages = Paginator(lots, LOTS_ON_A_PAGE)
        return super().get_context_data(
            path=tree.path(pk),
            climate=tree.climate(pk),
            rows=list(tree.rows(pk)),
            page_obj=pages.get_page(self.request.GET.get("page")),
            **kwargs,
        )


class AddPlacePage(DeskPage, ServicePage):
    form_class = forms.StoragePlaceForm
    heading = gettext_lazy("Add a storage place")
    lead = gettext_lazy("Leave the climate empty where nobody measured it.")

    def get_initial(self) -> dict[str, Any]:
        return {"inside": self.request.GET.get("inside", "")}

    def act(self, asked: dict[str, Any]):
        return services.add_storage_place(by=self.request.user, **asked)

    def back_to(self) -> str:
        return reverse("storage")

    def crumbs(self) -> list[tuple[str, str]]:
        return [(reverse("storage"), _("Storage"))]


class _PlaceAction(DeskPage, ServicePage):
    @cached_property
    def place(self) -> StoragePlace:
        return get_object_or_404(StoragePlace, pk=self.kwargs["pk"])

    def back_to(self) -> str:
        return reverse("storage-place", args=[self.kwargs["pk"]])

    def crumbs(self) -> list[tuple[str, str]]:
        return [(reverse("storage"), _("Storage")), (self.back_to(), self.place.name)]


class EditPlacePage(_PlaceAction):
    form_class = forms.StoragePlaceForm
    heading = gettext_lazy("Edit the storage place")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"instance": self.place}

    def act(self, asked: dict[str, Any]):
        place = StoragePlace.objects.get(pk=self.place.pk)
        return services.edit_storage_place(place=place, by=self.request.user, **asked)

    def where_next(self, result: StoragePlace) -> str:
        for sentence in result.told:
            messages.info(self.request, sentence)
        return super().where_next(result)


class RemovePlacePage(_PlaceAction):
    form_class = Form
    heading = gettext_lazy("Remove the storage place")
    lead = gettext_lazy("Only an empty place can be removed.")
    submit = gettext_lazy("Remove")
    danger = True

    def act(self, asked: dict[str, Any]):
        place = StoragePlace.objects.get(pk=self.place.pk)
        return services.remove_storage_place(place=place, by=self.request.user)

    def where_next(self, result: Any) -> str:
        return reverse("storage")


class WeighingPage(DeskPage, TemplateView):
    """How many seeds weigh so much: ``?variety=7&grams=12.5&thousand_seed_weight_g=3``.

    For seed that has no card yet ``crop=3`` stands in for the variety.

    Asked by htmx it answers with the conversion alone, for a form that takes a weight.
    """

    def get_template_names(self) -> list[str]:
        part = getattr(self.request, "htmx", False)
        return ["stock/conversion.html" if part else "stock/weighing.html"]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        asked = self.request.GET
        context = super().get_context_data(asked=asked, **kwargs)
        cards = Variety.objects.with_crop().prefetch_related("crop__species__figures")
        number = number_asked(asked.get("variety", ""))
        variety = get_object_or_404(cards, pk=number) if number is not None else None
        weighed = variety or self._nameless()
        if weighed is None or not asked.get("grams"):
            return context | {"variety": variety}
        return context | {"variety": variety} | self._converted(weighed)

    def _nameless(self) -> Variety | None:
        """A variety that has no card yet, of the crop that was said."""
        number = number_asked(self.request.GET.get("crop", ""))
        crops = Crop.objects.select_related("species").prefetch_related("species__figures")
        return None if number is None else Variety(crop=get_object_or_404(crops, pk=number))

    def _converted(self, variety: Variety) -> dict[str, Any]:
        try:
            conversion = services.seeds_from_weight(
                variety=variety,
                grams=self.request.GET["grams"],
                thousand_seed_weight_g=self.request.GET.get("thousand_seed_weight_g") or None,
            )
        except Refused as refusal:
            return {"refusal": refusal}
        how = conversion.how and SpeciesFigure.How(conversion.how).label
        return {"conversion": conversion, "how": how}
