"""What a grower offers for a season."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy

from accounts.access import CoordinatorPage, MemberPage
from accounts.models import Community, Garden, Member
from library.growouts.forms.seasons import OfferForm
from library.growouts.models import Commitment, GrowerOffer, OwnPlanting, Season
from library.growouts.services import seasons as services
from library.growouts.views.seasons.base import OneSeason, coordinates
from library.lending.views.base import VerbButton, VerbPage

SHOWN_PLANTINGS = 30


class OfferPage(MemberPage, OneSeason, VerbPage):
    """One's own offer: gardens, room, what can be done in them, how many varieties."""

    template_name = "growouts/seasons/offer.html"
    form_class = OfferForm
    done = gettext_lazy("Thank you. You are asked before anything is yours to grow.")

    @cached_property
    def grower(self) -> Member:
        return self.asker

    @cached_property
    def gardens(self) -> list[Garden]:
        return list(self.grower.gardens.all())

    @cached_property
    def offer(self) -> GrowerOffer | None:
        offers = GrowerOffer.objects.of(self.grower).filter(season=self.season)
        return offers.with_details().first()

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"gardens": self.gardens, "offer": self.offer}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        season = self.season
        own = OwnPlanting.objects.of(self.grower).in_year(season.year).with_details()
        bound = Commitment.objects.open().filter(season=season, grower=self.grower)
        in_time = season.takes_offers(self.today)
        stands = self.offer is not None and self.offer.withdrawn_at is None
        return super().get_context_data(
            grower=self.grower,
            mine=self.grower.pk == self.asker.pk,
            offer=self.offer,
            stands=stands,
            may_change=in_time or (coordinates(self.asker) and not season.is_over),
            may_withdraw=stands and not season.is_over and not bound.exists(),
            library_has_frosts=Community.current().season is not None,
            plantings=own.order_by("garden__name", "pk")[:SHOWN_PLANTINGS],
            planting_count=own.count(),
            **kwargs,
        )

    def act(self, form: Any) -> Season:
        services.offer_gardens(
            season=self.season,
            member=self.grower,
            gardens=form.rooms(),
            most=form.cleaned_data["most"],
            wishes=form.cleaned_data["wishes"],
            on=self.today,
            by=self.asker,
        )
        return self.season


class OfferOfPage(CoordinatorPage, OfferPage):
    """A coordinator writes down what a grower told them, also when offers have ended."""

    done = gettext_lazy("The offer is kept.")

    @cached_property
    def grower(self) -> Member:
        member = get_object_or_404(Member.objects.active(), pk=self.kwargs["member"])
        if not member.is_approved:
            raise Http404
        return member


class WithdrawOffer(MemberPage, VerbButton):
    rows = GrowerOffer.objects.all()
    done = gettext_lazy("Withdrawn. You can offer gardens again while offers are taken.")

    def act(self, row: GrowerOffer) -> Season:
        services.withdraw_offer(offer=row, by=self.asker)
        return row.season
