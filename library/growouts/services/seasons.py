"""Seasons, the varieties they are to renew, and what growers offer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.models import BreedingStatus, Variety
from library.errors import Conflict, Refused
from library.growouts.models import (
    Commitment,
    GardenOffer,
    GrowerOffer,
    Season,
    WantedVariety,
)
from library.growouts.services.checks import (
    a_year,
    coordinates,
    locked_member,
    locked_open,
    number,
    own_or_coordinator,
)
from library.growouts.services.rooms import Room, rooms_of, still_there
from library.stock.services.checks import fits

MOST_WANTED = 2000
LAST_NOTE = 4000


@transaction.atomic
def open_season(
    *, year: int, by: Member, offers_until: dt.date | None = None, note: str = ""
) -> Season:
    """Begin to gather gardens for a year."""
    coordinates(by)
    year = a_year(year)
    try:
        with transaction.atomic():
            return Season.objects.create(
                year=year,
                offers_until=offers_until,
                note=fits(note, field="note", most=LAST_NOTE),
                opened_by=by,
            )
    except IntegrityError as error:
        raise Conflict(
            _("The season of %(year)s is there already.") % {"year": year}, field="year"
        ) from error


@transaction.atomic
def change_season(
    *, season: Season, by: Member, offers_until: dt.date | None = None, note: str = ""
) -> Season:
    coordinates(by)
    season = locked_open(season)
    season.offers_until = offers_until
    season.note = fits(note, field="note", most=LAST_NOTE)
    season.save(update_fields=["offers_until", "note"])
    return season


@transaction.atomic
def close_season(*, season: Season, on: dt.date, by: Member) -> Season:
    """The season is over: nothing is offered, planned or promised in it any more."""
    coordinates(by)
    season = locked_open(season)
    open_ones = Commitment.objects.open().filter(season=season).count()
    if open_ones:
        raise Conflict(
            ngettext(
                "%(n)s promise or offer of this season is still open; end it first.",
                "%(n)s promises or offers of this season are still open; end them first.",
                open_ones,
            )
            % {"n": open_ones}
        )
    if season.plans.at_work().exists():
        raise Conflict(_("A plan of this season is being worked on; stop it first."))
    season.closed_on = on
    season.save(update_fields=["closed_on"])
    return season


@transaction.atomic
def reopen_season(*, season: Season, by: Member) -> Season:
    """It was closed too soon."""
    coordinates(by)
    season = Season.objects.select_for_update(no_key=True).get(pk=season.pk)
    if not season.is_over:
        raise Conflict(_("The season of %(year)s is open.") % {"year": season.year})
    season.closed_on = None
    season.save(update_fields=["closed_on"])
    return season


@transaction.atomic
def want_varieties(
    *,
    season: Season,
    varieties: Iterable[Variety],
    by: Member,
    weight: Any = Decimal(1),
    most_growers: int = 2,
    why: str = "",
) -> list[WantedVariety]:
    """These varieties are to be renewed; for one that was wanted already, its facts change."""
    coordinates(by)
    season = locked_open(season)
    facts = {
        "weight": _weight(weight),
        "most_growers": number(most_growers, field="most_growers", least=1, most=20),
        "why": fits(why, field="why", most=250),
    }
    asked = {variety.pk: variety for variety in varieties}
    if not asked:
        raise Refused(_("Choose at least one variety."), field="varieties")
    for variety in asked.values():
        _can_be_renewed(variety)
    others = season.wanted.exclude(variety__in=asked).count()
    if others + len(asked) > MOST_WANTED:
        raise Refused(
            _("A season renews at most %(most)s varieties.") % {"most": MOST_WANTED},
            field="varieties",
        )
    WantedVariety.objects.bulk_create(
        [
            WantedVariety(season=season, variety=variety, added_by=by, **facts)
            for variety in asked.values()
        ],
        update_conflicts=True,
        unique_fields=["season", "variety"],
        update_fields=list(facts),
    )
    return list(season.wanted.filter(variety__in=asked).with_variety())


def _can_be_renewed(variety: Variety) -> None:
    if variety.breeding_status == BreedingStatus.F1:
        raise Refused(
            _("%(name)s is an F1 hybrid: it cannot be renewed by growing it.")
            % {"name": variety.name},
            field="varieties",
        )


def _weight(weight: Any) -> Decimal:
    try:
        found = Decimal(str(weight)).quantize(Decimal("0.1"))
    except ArithmeticError as error:
        raise Refused(_("A weight is a number from 0 to 100."), field="weight") from error
    if not found.is_finite() or not 0 <= found <= 100:
        raise Refused(_("A weight is a number from 0 to 100."), field="weight")
    return found


@transaction.atomic
def drop_wanted(*, wanted: WantedVariety, by: Member) -> None:
    """The variety is not to be renewed in the season after all; promises stay."""
    coordinates(by)
    locked_open(wanted.season)
    WantedVariety.objects.filter(pk=wanted.pk).delete()


@transaction.atomic
def drop_varieties(*, season: Season, varieties: Iterable[Variety], by: Member) -> int:
    """Several at once; how many of them had been wanted. Promises stay."""
    coordinates(by)
    season = locked_open(season)
    return season.wanted.filter(variety__in=list(varieties)).delete()[0]


@transaction.atomic
def offer_gardens(
    *,
    season: Season,
    member: Member,
    gardens: Iterable[Room],
    most: int,
    on: dt.date,
    by: Member,
    wishes: str = "",
) -> GrowerOffer:
    """A grower says which gardens the season may use, and how many varieties at most.

    Replaces what they offered before. A garden in which something is promised stays offered.
    """
    own_or_coordinator(member, by)
    member = locked_member(member)
    season = locked_open(season)
    last = season.offers_until
    if last is not None and on > last and not by.has_perm(COORDINATE):
        raise Conflict(
            _("Gardens for %(year)s were offered until %(day)s; ask a coordinator.")
            % {"year": season.year, "day": date_format(last)},
        )
    rooms = rooms_of(gardens, member)
    still_there({room.garden.pk for room in rooms}, member)
    offer, _made = GrowerOffer.objects.update_or_create(
        season=season,
        member=member,
        defaults={
            "most": number(most, field="most", least=1, most=50),
            "wishes": fits(wishes, field="wishes", most=2000),
            "withdrawn_at": None,
        },
    )
    _keep_promised(season, member, {r.garden.pk for r in rooms})
    offer.gardens.all().delete()
    GardenOffer.objects.bulk_create(
        GardenOffer(
            offer=offer,
            garden=r.garden,
            room_m2=r.room_m2,
            room_next_m2=r.room_next_m2,
            can_cage=r.can_cage,
            can_bag=r.can_bag,
            can_pollinate_by_hand=r.can_pollinate_by_hand,
        )
        for r in rooms
    )
    return offer


def _keep_promised(season: Season, member: Member, offered: set[int]) -> None:
    """Conflict when something open is in a garden that is not offered any more."""
    open_ones = Commitment.objects.open().filter(season=season, grower=member)
    in_a_garden = open_ones.filter(garden__isnull=False).exclude(garden__in=offered)
    missing = in_a_garden.select_related("garden", "variety").first()
    if missing is not None:
        raise Conflict(
            _("%(variety)s is promised or offered in “%(garden)s”: keep that garden.")
            % {"variety": missing.variety.name, "garden": missing.garden},
            field="gardens",
        )


@transaction.atomic
def withdraw_offer(*, offer: GrowerOffer, by: Member) -> GrowerOffer:
    """The gardens are not to be planned with after all; nothing may be promised in them.

    Withdrawing again changes nothing.
    """
    own_or_coordinator(offer.member, by)
    season = locked_open(offer.season)
    _keep_promised(season, offer.member, set())
    locked = GrowerOffer.objects.select_for_update(of=("self",), no_key=True)
    offer = locked.get(pk=offer.pk)
    if offer.withdrawn_at is None:
        offer.withdrawn_at = timezone.now()
        offer.save(update_fields=["withdrawn_at"])
    return offer
