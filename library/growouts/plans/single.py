"""What speaks against asking for one variety in one garden: what a plan would look at too."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from django.utils.translation import gettext as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models import GardenOffer, Season
from library.growouts.plans.given import garden_key, given_of, variety_key
from library.growouts.plans.words import because
from library.science import assignment as science
from library.science.isolation import Technique
from library.stock.models import Isolation

BY_HAND = {Isolation.CAGE, Isolation.BAG, Isolation.HAND_POLLINATION}
# Whoever flowers at another time needs no distance either, as under a bag.
KEEPS_APART: dict[str, Technique] = {way: Technique(way) for way in BY_HAND}
KEEPS_APART[Isolation.TIME] = Technique.BAG
ASKED = "asked"  # the garden's key as it is asked for, beside what is bound in it


def doubts_about(
    *,
    season: Season,
    variety: Variety,
    garden: Garden,
    technique: str,
    plants: int | None,
    on: dt.date,
) -> list[str]:
    """Sentences, none where a plan could have made this pair beside all that is promised.

    ``plants`` None: as many as keep the variety. Room, season, the grower's wishes, distance to
    own plantings and to what is offered or promised; and whether the grower can do what is
    asked of them.
    """
    offered = GardenOffer.objects.standing(season).filter(garden=garden).first()
    if offered is None:
        return [
            _("The garden is not offered for %(year)s, so that its room is not known.")
            % {"year": season.year}
        ]
    doubts = []
    if technique in BY_HAND and Technique(technique) not in offered.techniques:
        doubts.append(
            _("Its grower did not say that they can do this: %(technique)s.")
            % {"technique": Isolation(technique).label}
        )
    given = given_of(season, on=on, also=variety).season
    hindrance = _hindrance(
        given, variety_key(variety.pk), garden_key(garden.pk), technique, plants
    )
    if hindrance is not None:
        doubts.append(_("As a plan sees it: %(why)s.") % {"why": because(hindrance.value)})
    return doubts


def _hindrance(
    given: science.Season, variety: str, garden: str, technique: str, plants: int | None
) -> science.Obstacle | science.Clash | None:
    """What the rules of a plan say of one more pair beside what is bound already."""
    bound = given.pinned - {(variety, garden)}
    asked = _as_asked(given, bound, given.garden[garden], technique)
    wanted = given.variety[variety]
    changed = replace(wanted, plants=plants or wanted.plants)
    gardens = {g for _v, g in bound}
    varieties = {v for v, _g in bound} - {variety}
    narrowed = replace(
        given,
        varieties=(changed, *(v for v in given.varieties if v.key in varieties)),
        gardens=(asked, *(g for g in given.gardens if g.key in gardens)),
        plantings=(*given.plantings, *_flowering(given, bound)),
        pinned=frozenset(),
        forbidden=frozenset({(variety, ASKED)} if (variety, garden) in given.forbidden else ()),
    )
    pairs = science.possible_pairs(narrowed)
    sheet = science.Sheet(pairs)
    for pair in bound:
        sheet.add(*pair)  # as it is: it may break a rule, and was promised all the same
    return pairs.obstacles.get((variety, ASKED)) or sheet.clash(variety, ASKED)


def _as_asked(
    given: science.Season,
    bound: frozenset[science.Pair],
    garden: science.OfferedGarden,
    technique: str,
) -> science.OfferedGarden:
    """The garden with the room that is left, where only the technique asked for counts."""
    taken = {1: 0.0, 2: 0.0}
    for variety, place in bound:
        if place == garden.key:
            for season in range(1, given.variety[variety].seasons + 1):
                taken[season] += given.variety[variety].room_m2
    return replace(
        garden,
        key=ASKED,
        room_m2=max(0.0, garden.room_in(1) - taken[1]),
        room_next_m2=max(0.0, garden.room_in(2) - taken[2]),
        techniques=frozenset(t for way, t in KEEPS_APART.items() if way == technique),
    )


def _flowering(
    given: science.Season, bound: frozenset[science.Pair]
) -> Iterator[science.Planting]:
    """What is bound and kept from crossing by distance only: it stands there as a planting."""
    for key, place in sorted(bound):
        variety, garden = given.variety[key], given.garden[place]
        if garden.place_known and science.protecting(variety, garden) is None:
            yield science.Planting(
                species=variety.species,
                variety=key,
                latitude=garden.latitude,
                longitude=garden.longitude,
            )
