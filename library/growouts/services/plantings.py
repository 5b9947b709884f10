"""What members grow for themselves: a neighbour's crop may cross with it."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Species, Variety
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.models import OwnPlanting
from library.growouts.services.checks import (
    a_year,
    locked_member,
    number,
    own_garden,
    room,
)
from library.stock.services.checks import fits

MOST_PLANTINGS = 300  # of one garden in one year


@transaction.atomic
def add_planting(
    *,
    garden: Garden,
    year: int,
    by: Member,
    variety: Variety | None = None,
    species: Species | None = None,
    name: str = "",
    plants: int | None = None,
    room_m2: Any = None,
    flowers: bool = True,
    for_seed: bool = False,
    note: str = "",
) -> OwnPlanting:
    """What somebody grows for themselves: a catalogue variety, or a name and a species."""
    own_garden(garden, by)
    _room_for_one(garden, year)
    planting = OwnPlanting(garden=garden)
    return _planted(
        planting,
        year=year,
        variety=variety,
        species=species,
        name=name,
        plants=plants,
        room_m2=room_m2,
        flowers=flowers,
        for_seed=for_seed,
        note=note,
    )


@transaction.atomic
def edit_planting(*, planting: OwnPlanting, by: Member, **facts: Any) -> OwnPlanting:
    """Change what is given; the rest stays as it is. A name takes the place of a variety, and
    a variety that of a name.
    """
    _own(planting, by)
    locked_member(by)
    planting = _locked(planting)
    known = {
        "year": planting.year,
        "variety": planting.variety,
        "species": planting.species,
        "name": planting.name,
        "plants": planting.plants,
        "room_m2": planting.room_m2,
        "flowers": planting.flowers,
        "for_seed": planting.for_seed,
        "note": planting.note,
    }
    if not facts.keys() <= known.keys():
        wrong = sorted(facts.keys() - known.keys())[0]
        raise Refused(
            _("“%(field)s” is not kept of a planting.") % {"field": wrong}, field=wrong
        )
    if facts.get("name") and facts.get("variety") is None:
        known["variety"] = None
    if facts.get("variety") is not None and not facts.get("name"):
        known["name"] = ""
    facts = known | facts
    if facts["year"] != planting.year:
        _room_for_one(planting.garden, facts["year"])
    return _planted(planting, **facts)


@transaction.atomic
def remove_planting(*, planting: OwnPlanting, by: Member) -> None:
    _own(planting, by)
    OwnPlanting.objects.filter(pk=planting.pk).delete()


def _own(planting: OwnPlanting, by: Member) -> None:
    if planting.garden.member_id != by.pk:
        raise NotAllowed(_("Only the member whose garden it is can change it."))


def _locked(planting: OwnPlanting) -> OwnPlanting:
    """As it is now; Conflict when it was removed meanwhile."""
    rows = OwnPlanting.objects.select_for_update(of=("self",), no_key=True)
    found = rows.select_related("garden", "variety", "species").filter(pk=planting.pk).first()
    if found is None:
        raise Conflict(_("This planting was removed."))
    return found


def _room_for_one(garden: Garden, year: Any) -> None:
    """Lock its member, so that one writer at a time counts; refuse more than are kept."""
    year = a_year(year)
    locked_member(garden.member)
    if not Garden.objects.filter(pk=garden.pk).exists():
        raise Conflict(_("This garden was removed."), field="garden")
    if OwnPlanting.objects.filter(garden=garden, year=year).count() >= MOST_PLANTINGS:
        raise Refused(
            _("At most %(most)s plantings are kept of one garden in one year.")
            % {"most": MOST_PLANTINGS}
        )


def _planted(
    planting: OwnPlanting,
    *,
    year: int,
    variety: Variety | None,
    species: Species | None,
    name: str,
    plants: int | None,
    room_m2: Any,
    flowers: bool,
    for_seed: bool,
    note: str,
) -> OwnPlanting:
    name = fits(name, field="name", most=120)
    if variety is not None and name:
        raise Refused(
            _("Choose a variety of the catalogue or give a name, not both."), field="name"
        )
    if variety is None and (not name or species is None):
        raise Refused(
            _("Choose a variety of the catalogue, or give a name and say which species it is."),
            field="variety",
        )
    planting.year = a_year(year)
    planting.variety = variety
    planting.species = variety.crop.species if variety else species  # type: ignore[assignment]
    planting.name = name
    planting.plants = (
        None if plants is None else number(plants, field="plants", least=1, most=1_000_000)
    )
    planting.room_m2 = None if room_m2 in (None, "") else room(room_m2, field="room_m2")
    planting.flowers, planting.for_seed = bool(flowers), bool(for_seed)
    planting.note = fits(note, field="note", most=500)
    planting.save()
    return planting
