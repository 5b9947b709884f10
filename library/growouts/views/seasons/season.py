"""One season: what it renews, who offers what, who grows what; opening and closing it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count
from django.forms import Form
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage, MemberPage
from accounts.models import Community
from library.growouts.commitments.dates import first_year_to_sow_for
from library.growouts.experience import Experience, experience_of
from library.growouts.forms.seasons import ChangeSeasonForm, NewSeasonForm, season_initial
from library.growouts.models import (
    Commitment,
    GrowerOffer,
    OwnPlanting,
    Season,
    WantedVariety,
)
from library.growouts.risk import chances_of_loss
from library.growouts.services import seasons as services
from library.growouts.views.seasons.base import Asked, OneSeason, SeasonVerb, coordinates
from library.lending.finding import members_named
from library.lending.views.base import VerbPage

SHOWN_WANTED = 100
SHOWN_GROWN = 200
OFFERS_ON_A_PAGE = 30


@dataclass(frozen=True)
class WantedRow:
    """``lost`` is the chance, 0 to 1, that the variety is lost; None where nobody asked."""

    wanted: WantedVariety
    lost: float | None

    @property
    def percent(self) -> float | None:
        return None if self.lost is None else round(100 * self.lost, 1)


@dataclass(frozen=True)
class OfferRow:
    """An offer as a coordinator reads it."""

    offer: GrowerOffer
    experience: Experience
    plantings: int

    @property
    def room_m2(self) -> Any:
        return sum(garden.room_m2 for garden in self.offer.gardens.all())


class SeasonPage(MemberPage, OneSeason, Asked, TemplateView):
    """A member sees their own part and who grows what; a coordinator all that was offered."""

    template_name = "growouts/seasons/season.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        season, user = self.season, self.asker
        leads = coordinates(user)
        promised = Commitment.objects.filter(season=season).promised()
        mine = Commitment.objects.filter(season=season).of(user)
        if leads:
            kwargs |= self._offers()
        return super().get_context_data(
            coordinates=leads,
            today=self.today,
            takes_offers=season.takes_offers(self.today),
            **self._wanted(),
            mine=mine.with_details().order_by("variety__folded_name", "pk"),
            my_offer=self._my_offer(),
            my_plantings=OwnPlanting.objects.of(user).in_year(season.year).count(),
            grown=promised.select_related("variety__crop", "grower").order_by(
                "variety__folded_name", "grower__display_name_key"
            )[:SHOWN_GROWN],
            **kwargs,
        )

    def _wanted(self) -> dict[str, Any]:
        wanted = list(self.season.wanted.with_variety())
        lost = chances_of_loss(on=self.today, varieties=[row.variety for row in wanted])
        rows = [WantedRow(row, lost.get(row.variety_id)) for row in wanted]
        rows.sort(key=lambda row: (-(row.lost or 0), row.wanted.variety.folded_name))
        return {"wanted": rows[:SHOWN_WANTED], "wanted_count": len(rows)}

    def _my_offer(self) -> GrowerOffer | None:
        offers = GrowerOffer.objects.of(self.asker).filter(season=self.season)
        return offers.filter(withdrawn_at=None).with_details().first()

    def _offers(self) -> dict[str, Any]:
        standing = GrowerOffer.objects.standing().filter(season=self.season)
        ordered = standing.with_details().order_by("member__display_name_key")
        page = Paginator(ordered, OFFERS_ON_A_PAGE).get_page(self.request.GET.get("page"))
        members = [offer.member_id for offer in page]
        experience = experience_of(members, on=self.today)
        planted = (
            OwnPlanting.objects.in_year(self.season.year)
            .filter(garden__member__in=members)
            .order_by()
            .values_list("garden__member")
            .annotate(n=Count("pk"))
        )
        counts = dict(planted)
        rows = [
            OfferRow(offer, experience[offer.member_id], counts.get(offer.member_id, 0))
            for offer in page
        ]
        plantings = OwnPlanting.objects.in_year(self.season.year).count()
        sought = self.request.GET.get("for", "")
        return {
            "page_obj": page,
            "offers": rows,
            "plantings": plantings,
            "sought": sought,
            "people": members_named(sought) if sought else [],
        }


class SeasonNewPage(CoordinatorPage, VerbPage):
    template_name = "growouts/seasons/season_form.html"
    form_class = NewSeasonForm
    done = gettext_lazy("The season is open. Choose what it is to renew.")

    def get_initial(self) -> dict[str, Any]:
        """The first year that can still be sown for and has no season yet."""
        taken = set(Season.objects.values_list("year", flat=True))
        year = first_year_to_sow_for(self.today, Community.current().season)
        while year in taken:
            year += 1
        return {"year": year}

    def act(self, form: Any) -> str:
        season = services.open_season(by=self.asker, **form.cleaned_data)
        return reverse("growout-wanted", args=[season.year])


class SeasonChangePage(SeasonVerb):
    template_name = "growouts/seasons/season_form.html"
    form_class = ChangeSeasonForm
    done = gettext_lazy("Saved.")

    def get_initial(self) -> dict[str, Any]:
        return season_initial(self.season)

    def act(self, form: Any) -> Season:
        return services.change_season(season=self.season, by=self.asker, **form.cleaned_data)


class SeasonClosePage(SeasonVerb):
    """Closes an open season; opens one that was closed too soon."""

    template_name = "growouts/seasons/season_close.html"
    form_class = Form

    def act(self, form: Any) -> Season:
        if "reopen" in self.request.POST:
            return services.reopen_season(season=self.season, by=self.asker)
        return services.close_season(season=self.season, on=self.today, by=self.asker)

    def said(self, form: Any, target: Season) -> str:
        return _("The season is over.") if target.is_over else _("The season is open again.")
