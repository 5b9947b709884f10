"""Choosing what a season is to renew, from the varieties ranked by their chance of loss."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.utils.functional import cached_property
from django.utils.translation import ngettext

from library.catalogue.models import BreedingStatus, Variety
from library.catalogue.search import search
from library.growouts.forms.seasons import WantedFilterForm, WantedForm
from library.growouts.models import WantedVariety
from library.growouts.risk import at_risk
from library.growouts.risk.reading import of_concern
from library.growouts.services import seasons as services
from library.growouts.views.seasons.base import SeasonVerb

ON_A_PAGE = 30


class WantedPage(SeasonVerb):
    template_name = "growouts/seasons/wanted.html"
    form_class = WantedForm

    @cached_property
    def filter(self) -> WantedFilterForm:
        return WantedFilterForm(self.request.GET)

    @cached_property
    def wanted(self) -> dict[int, WantedVariety]:
        return {row.variety_id: row for row in self.season.wanted.all()}

    def get_initial(self) -> dict[str, Any]:
        """``?variety=`` ticks one, as the page of what is at risk does."""
        return {"varieties": self.request.GET.getlist("variety")}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        ranked = at_risk(on=self.today, varieties=self._varieties())
        page = Paginator(ranked, ON_A_PAGE).get_page(self.request.GET.get("page"))
        kwargs.setdefault("form", self.get_form())
        ticked = {str(each) for each in kwargs["form"]["varieties"].value() or ()}
        rows = [
            {
                "risk": one,
                "wanted": self.wanted.get(one.variety.pk),
                "percent": round(100 * one.lost, 1),
                "ticked": str(one.variety.pk) in ticked,
            }
            for one in page
        ]
        return super().get_context_data(
            page_obj=page, rows=rows, filter=self.filter, chosen=len(self.wanted), **kwargs
        )

    def _varieties(self) -> QuerySet[Variety]:
        """Those of concern; whoever looks for a name looks in the whole catalogue."""
        asked = self.filter.asked()
        name, crop, show = (asked.get(key) for key in ("q", "crop", "show"))
        found: QuerySet[Variety]
        if show == "wanted":
            found = Variety.objects.filter(pk__in=self.wanted)
        elif name:
            found = Variety.objects.exclude(breeding_status=BreedingStatus.F1)
        else:
            found = of_concern(self.today)
        if crop:
            found = found.filter(crop=crop)
        if show == "open":
            found = found.exclude(pk__in=self.wanted)
        if show == "rare":
            found = found.filter(is_rare=True)
        return search(found, name).varieties if name else found

    def act(self, form: Any) -> str:
        data = dict(form.cleaned_data)
        if data.pop("act") == "drop":
            count = services.drop_varieties(
                season=self.season, varieties=data["varieties"], by=self.asker
            )
            said = ngettext("%(n)s variety dropped.", "%(n)s varieties dropped.", count)
        else:
            count = len(services.want_varieties(season=self.season, by=self.asker, **data))
            said = ngettext("%(n)s variety chosen.", "%(n)s varieties chosen.", count)
        messages.success(self.request, said % {"n": count})
        return self.request.get_full_path()

    def said(self, form: Any, target: Any) -> str:
        return ""
