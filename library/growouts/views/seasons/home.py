"""Where grow-outs begin: what I promised, what I am asked, and the seasons."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.views.generic import TemplateView

from accounts.access import MemberPage
from accounts.models import Member
from library.growouts.models import Commitment, GrowerOffer, Season
from library.growouts.views.seasons.base import coordinates

MOST_PAST = 20
MOST_OWN = 60


@dataclass(frozen=True)
class OpenSeason:
    """A season that is not over, as one member sees it."""

    season: Season
    offer: GrowerOffer | None
    takes_offers: bool


class GrowOutsPage(MemberPage, TemplateView):
    template_name = "growouts/seasons/home.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        user, today = self.request.user, timezone.localdate()
        mine = Commitment.objects.of(user).with_details()
        return super().get_context_data(
            asked=list(mine.waiting().order_by("answer_by", "pk")[:MOST_OWN]),
            growing=list(mine.growing().order_by("season__year", "pk")[:MOST_OWN]),
            seasons=open_seasons(user, today),
            past=Season.objects.exclude(closed_on=None)[:MOST_PAST],
            coordinates=coordinates(user),
            today=today,
            **kwargs,
        )


def open_seasons(member: Member, today) -> list[OpenSeason]:
    """The open seasons, the nearest year first, with what the member offered for each."""
    seasons = Season.objects.open().with_counts().order_by("year")
    offers = GrowerOffer.objects.of(member).filter(withdrawn_at=None).with_details()
    of_season = {offer.season_id: offer for offer in offers.filter(season__closed_on=None)}
    return [
        OpenSeason(season, of_season.get(season.pk), season.takes_offers(today))
        for season in seasons
    ]
