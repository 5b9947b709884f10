"""Other plantings that flowered in the year of a stand, nearer to it than is needed.

They are known from the gardens of lots that were grown in the same harvest year; a biennial
flowers in the year of its harvest too. Only a garden that is placed exactly, and was not moved
since, says where a stand was. A place on the coarse grid is too far from the truth; and who
could move a garden about and read what is said of its stands would find the neighbours' places.
For the same reason only coordinators read what two gardens' places say of one another: who
puts gardens of their own here and there, and has lots of them received, asks with each of them
whether anybody grows the species within its distance.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from accounts.models import Garden
from library.provenance.chain import Chain, growing_of
from library.science.isolation import distance_m
from library.stock.models import Growing, Lot

# A garden is taken to be no wider than this: common practice, no source. Within it, what a
# grower noted is better than anything that a garden's place can say.
GARDEN_M = 50.0
_DEGREE_M = 110_000.0  # of latitude, at the least: 110.57 km at the equator


class Planting(NamedTuple):
    """A lot, by its key, that grew near a stand in its year, and how far apart their gardens
    are; 0 for the same garden.
    """

    lot: int
    distance_m: float


@dataclass(frozen=True)
class KnownPlantings:
    """By the keys of a chain's lots: the plantings that were too near to each stand, and the
    stands whose place is known closely enough to look for any.
    """

    near: Mapping[int, tuple[Planting, ...]]
    looked_for: frozenset[int]


def known_plantings(
    chain: Chain, required: Mapping[int, float], *, elsewhere: bool
) -> KnownPlantings:
    """The plantings nearer to a stand of the chain than its species needs.

    ``required`` are metres by species. ``elsewhere`` in other gardens too, by where they lie;
    else in the stand's own garden only. Three queries at most, over the gardens and years in
    question only.
    """
    stands = [lot for lot in chain.order if _has_a_garden(lot, required)]
    if not stands:
        return KnownPlantings({}, frozenset())
    here = {_garden(lot) for lot in stands}
    own = Garden.objects.in_bulk(here) if elsewhere else {}
    placed = {lot.pk for lot in stands if own and _was_at(own[_garden(lot)], lot.created_at)}
    gardens = _Gardens(
        [own[_garden(lot)] for lot in stands if lot.pk in placed], max(required.values())
    )
    grown = _grown(chain, stands, required, {*here, *gardens.within_reach})
    near = {
        lot.pk: tuple(_near(lot, chain, required, gardens, grown, placed)) for lot in stands
    }
    return KnownPlantings({pk: found for pk, found in near.items() if found}, frozenset(placed))


def _has_a_garden(lot: Lot, required: Mapping[int, float]) -> bool:
    growing = growing_of(lot)
    known = growing is not None and growing.garden_id is not None
    return known and lot.harvest_year is not None and lot.variety.crop.species_id in required


def _garden(lot: Lot) -> int:
    return lot.growing.garden_id or 0


def _was_at(garden: Garden, when: dt.datetime) -> bool:
    """Whether the garden's place is exact, and is the one that it was when a lot came."""
    if garden.placed != Garden.Placed.EXACT or garden.latitude is None:
        return False
    return garden.moved_at is None or garden.moved_at < when


class _Gardens:
    """The gardens that lie within so many metres of those in question; one query, none for
    none. The exact distance is worked out only for those that are asked about.
    """

    def __init__(self, own: Iterable[Garden], metres: float) -> None:
        self.by_key = {garden.pk: garden for garden in own}
        self.around: dict[int, list[int]] = {pk: [] for pk in self.by_key}
        self.distance = cache(self._distance)
        if self.by_key:
            self._look_around(metres)

    def _look_around(self, metres: float) -> None:
        degrees = metres / _DEGREE_M
        norths = [float(garden.latitude or 0) for garden in self.by_key.values()]
        rows = Garden.objects.filter(
            placed=Garden.Placed.EXACT,
            latitude__range=(min(norths) - degrees, max(norths) + degrees),
        )
        questions = {pk: _place(garden) for pk, garden in self.by_key.items()}
        self.by_key |= {garden.pk: garden for garden in rows}
        sorted_by_north = sorted((*_place(garden), garden.pk) for garden in rows)
        norths = [north for north, _east, _pk in sorted_by_north]
        for pk, (north, east) in questions.items():
            first = bisect_left(norths, north - degrees)
            band = sorted_by_north[first : bisect_right(norths, north + degrees)]
            width = _degrees_east(north, degrees)
            self.around[pk] = [
                other
                for _north, there, other in band
                if other != pk and min(abs(there - east), 360 - abs(there - east)) <= width
            ]

    @property
    def within_reach(self) -> set[int]:
        return {other for around in self.around.values() for other in around}

    def _distance(self, one: int, other: int) -> float:
        (north, east), (north2, east2) = _place(self.by_key[one]), _place(self.by_key[other])
        return distance_m(lat1=north, lon1=east, lat2=north2, lon2=east2)


def _degrees_east(north: float, degrees: float) -> float:
    """How far east or west, in degrees, what lies within ``degrees`` of a latitude can be."""
    parallel = math.cos(math.radians(min(abs(north) + degrees, 90)))
    return degrees / parallel if parallel > 1e-6 else 360.0  # beside a pole: anywhere


def _place(garden: Any) -> tuple[float, float]:
    return float(garden.latitude), float(garden.longitude)


class _Row(NamedTuple):
    """What is read of a planting; there may be thousands."""

    garden: int | None
    species: int
    year: int | None
    variety: int
    lot: int
    created_at: dt.datetime


# By species, harvest year and garden: what was grown.
_Grown = Mapping[tuple[int, int | None, int | None], list[_Row]]


def _grown(
    chain: Chain, stands: list[Lot], required: Mapping[int, float], gardens: set[int]
) -> _Grown:
    """What was grown of the stands' species in the gardens, in the stands' years: one query."""
    rows = Growing.objects.filter(
        garden__in=gardens,
        lot__harvest_year__in={lot.harvest_year for lot in stands},
        lot__variety__crop__species__in=list(required),
    )
    varieties = {lot.variety_id for lot in chain.lots.values()}
    if len(varieties) == 1:
        rows = rows.exclude(lot__variety__in=varieties)
    grown: dict[tuple[int, int | None, int | None], list[_Row]] = defaultdict(list)
    for values in rows.values_list(
        "garden",
        "lot__variety__crop__species",
        "lot__harvest_year",
        "lot__variety",
        "lot",
        "lot__created_at",
    ):
        row = _Row(*values)
        grown[row.species, row.year, row.garden].append(row)
    return grown


def _near(
    lot: Lot,
    chain: Chain,
    required: Mapping[int, float],
    gardens: _Gardens,
    grown: _Grown,
    placed: set[int],
) -> Iterator[Planting]:
    species, garden = lot.variety.crop.species_id, _garden(lot)
    metres, year = required[species], lot.harvest_year
    links = chain.parents.get(lot.pk, ())
    kin = {lot.variety_id, *(chain.lots[link.parent].variety_id for link in links)}
    if _tells_of_its_own_garden(lot, metres):
        for row in grown.get((species, year, garden), ()):
            if row.variety not in kin:
                yield Planting(row.lot, 0.0)
    for other in gardens.around[garden] if lot.pk in placed else ():
        for row in grown.get((species, year, other), ()):
            if row.variety in kin or not _was_at(gardens.by_key[other], row.created_at):
                continue
            if (far := gardens.distance(garden, other)) < metres:
                yield Planting(row.lot, far)


def _tells_of_its_own_garden(lot: Lot, metres: float) -> bool:
    """Whether another planting in the same garden is nearer than is needed, and was not what
    the grower noted.
    """
    noted = lot.growing.isolation_distance_m
    return metres > GARDEN_M and (noted is None or noted > GARDEN_M)
