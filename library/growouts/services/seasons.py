"""Seasons, the varieties they are to renew, and what growers offer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
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
    approved,
    coordinates,
    locked_open,
    number,
    own_garden,
    own_or_coordinator,
    room,
    text,
)

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
                note=text(note, field="note", most=LAST_NOTE),
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
    season.note = text(note, field="note", most=LAST_NOTE)
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
            _("%(n)s promises or offers of this season are still open; end them first.")
            % {"n": open_ones}
        )
    if season.plans.at_work().exists():
        raise Conflict(_("A plan of this season is being worked on; stop it first."))
    season.closed_on = on
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
        "why": text(why, field="why", most=250),
    }
    asked = list(varieties)
    for variety in asked:
        if variety.breeding_status == BreedingStatus.F1:
            raise Refused(
                _("%(name)s is an F1 hybrid: it cannot be renewed by growing it.")
                % {"name": variety.name},
                field="varieties",
            )
    wanted = [
        WantedVariety.objects.update_or_create(
            season=season,
            variety=variety,
            defaults=facts,
            create_defaults=facts | {"added_by": by},
        )[0]
        for variety in asked
    ]
    if season.wanted.count() > MOST_WANTED:
        raise Refused(
            _("A season renews at most %(most)s varieties.") % {"most": MOST_WANTED},
            field="varieties",
        )
    return wanted


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


@dataclass(frozen=True)
class Room:
    """What is offered of one garden. ``room_m2`` in square metres, more than 0; the room that
    may stay bound for a second season is as much unless said otherwise.
    """

    garden: Garden
    room_m2: Any
    room_next_m2: Any = None
    can_cage: bool = False
    can_bag: bool = False
    can_pollinate_by_hand: bool = False


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
    approved(member)
    season = locked_open(season)
    if by.pk == member.pk and not season.takes_offers(on):
        raise Conflict(
            _("Gardens for %(year)s were offered until %(day)s; ask a coordinator.")
            % {"year": season.year, "day": season.offers_until},
        )
    rooms = _rooms(gardens, member)
    offer, _made = GrowerOffer.objects.update_or_create(
        season=season,
        member=member,
        defaults={
            "most": number(most, field="most", least=1, most=50),
            "wishes": text(wishes, field="wishes", most=2000),
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


def _rooms(gardens: Iterable[Room], member: Member) -> list[Room]:
    rooms, seen = [], set()
    for asked in gardens:
        own_garden(asked.garden, member, field="gardens")
        if asked.garden.pk in seen:
            raise Refused(
                _("“%(name)s” is offered twice.") % {"name": asked.garden.name},
                field="gardens",
            )
        seen.add(asked.garden.pk)
        later = asked.room_next_m2
        rooms.append(
            Room(
                garden=asked.garden,
                room_m2=room(asked.room_m2, field="room_m2"),
                room_next_m2=None if later is None else _maybe_room(later),
                can_cage=bool(asked.can_cage),
                can_bag=bool(asked.can_bag),
                can_pollinate_by_hand=bool(asked.can_pollinate_by_hand),
            )
        )
    if not rooms:
        raise Refused(_("Say which of your gardens you offer."), field="gardens")
    return rooms


def _maybe_room(value: Any) -> Decimal:
    """Room in a second season: none is an answer too."""
    if str(value).strip() in ("0", "0.0"):
        return Decimal(0)
    return room(value, field="room_next_m2")


def _keep_promised(season: Season, member: Member, offered: set[int]) -> None:
    bound = Commitment.objects.open().filter(season=season, grower=member, garden__isnull=False)
    missing = bound.exclude(garden__in=offered).select_related("garden", "variety").first()
    if missing is not None and missing.garden is not None:
        raise Conflict(
            _("%(variety)s is promised or offered in “%(garden)s”: keep that garden.")
            % {"variety": missing.variety.name, "garden": missing.garden.name},
            field="gardens",
        )


@transaction.atomic
def withdraw_offer(*, offer: GrowerOffer, by: Member) -> GrowerOffer:
    """The gardens are not to be planned with after all; nothing may be promised in them."""
    own_or_coordinator(offer.member, by)
    season = locked_open(offer.season)
    _keep_promised(season, offer.member, set())
    offer = GrowerOffer.objects.select_for_update(no_key=True).get(pk=offer.pk)
    if offer.withdrawn_at is None:
        offer.withdrawn_at = timezone.now()
        offer.save(update_fields=["withdrawn_at"])
    return offer
