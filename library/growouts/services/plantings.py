"""What members grow for themselves: a neighbour's crop may cross with it."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Species, Variety
from library.errors import Refused
from library.growouts.models import OwnPlanting
from library.growouts.services.checks import a_year, number, own_garden, room, text

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
    Garden.objects.select_for_update(no_key=True).get(pk=garden.pk)
    if OwnPlanting.objects.filter(garden=garden, year=year).count() >= MOST_PLANTINGS:
        raise Refused(
            _("%(most)s plantings are kept of one garden in one year, and there are so many.")
            % {"most": MOST_PLANTINGS}
        )
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
    """Change what is given; the rest stays as it is."""
    own_garden(planting.garden, by)
    planting = (
        OwnPlanting.objects.select_for_update(of=("self",), no_key=True)
        .select_related("garden", "variety__crop__species", "species")
        .get(pk=planting.pk)
    )
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
    return _planted(planting, **known | facts)


@transaction.atomic
def remove_planting(*, planting: OwnPlanting, by: Member) -> None:
    own_garden(planting.garden, by)
    OwnPlanting.objects.filter(pk=planting.pk).delete()


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
    name = text(name, field="name", most=120)
    if variety is None and (not name or species is None):
        raise Refused(
            _("Choose a variety of the catalogue, or give a name and say which species it is."),
            field="variety",
        )
    planting.year = a_year(year)
    planting.variety = variety
    planting.species = variety.crop.species if variety else species  # type: ignore[assignment]
    planting.name = "" if variety else name
    planting.plants = (
        None if plants is None else number(plants, field="plants", least=1, most=1_000_000)
    )
    planting.room_m2 = None if room_m2 in (None, "") else room(room_m2, field="room_m2")
    planting.flowers, planting.for_seed = bool(flowers), bool(for_seed)
    planting.note = text(note, field="note", most=500)
    planting.save()
    return planting
