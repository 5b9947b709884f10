"""Other plantings that flowered in the year of a stand, nearer to it than is needed.

They are known from the gardens of lots that were grown in the same harvest year; a biennial
flowers in the year of its harvest too. Only a garden that is placed exactly, and was not moved
since, says where a stand was. A place on the coarse grid is too far from the truth; and who
could move a garden about and read what is said of its stands would find the neighbours' places.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from accounts.models import Garden
from library.provenance.chain import Chain, growing_of
from library.science.isolation import distance_m
from library.stock.models import Growing, Lot

# A garden is taken to be no wider than this: common practice, no source. Within it, what a
# grower noted is better than anything that a garden's place can say.
GARDEN_M = 50.0
_DEGREE_M = 110_000.0  # of latitude, at the least: 110.57 km at the equator

# For each garden in question the gardens within reach of it, and how far each is.
Reach = Mapping[int, Mapping[int, float]]


@dataclass(frozen=True)
class Planting:
    """A lot that grew near a stand in its year, and how far apart their gardens are."""

    lot: Lot
    distance_m: float


@dataclass(frozen=True)
class KnownPlantings:
    """By the keys of a chain's lots: the plantings that were too near to each stand, and the
    stands whose place is known closely enough to look for any.
    """

    near: Mapping[int, tuple[Planting, ...]]
    looked_for: frozenset[int]


def known_plantings(chain: Chain, required: Mapping[int, float]) -> KnownPlantings:
    """The plantings nearer to a stand of the chain than its species needs.

    ``required`` are metres by species. Three queries at most, over the gardens and years in
    question only.
    """
    stands = [lot for lot in chain.order if _has_a_garden(lot, required)]
    if not stands:
        return KnownPlantings({}, frozenset())
    own = Garden.objects.in_bulk({lot.growing.garden_id for lot in stands})
    placed = {lot.pk for lot in stands if _is_placed(lot, own[lot.growing.garden_id])}
    places = {
        lot.growing.garden_id: own[lot.growing.garden_id] for lot in stands if lot.pk in placed
    }
    reach = _within_reach(places.values(), max(required.values()))
    there = _grown_there(
        stands, required, {*own, *(g for near in reach.values() for g in near)}
    )
    near = {
        lot.pk: _near(lot, chain, required, reach, there, lot.pk in placed) for lot in stands
    }
    return KnownPlantings({pk: found for pk, found in near.items() if found}, frozenset(placed))


def _has_a_garden(lot: Lot, required: Mapping[int, float]) -> bool:
    growing = growing_of(lot)
    known = growing is not None and growing.garden_id is not None
    return known and lot.harvest_year is not None and lot.variety.crop.species_id in required


def _is_placed(lot: Lot, garden: Garden | None) -> bool:
    """Whether the garden's place is exact, and is the one that it was when the lot came."""
    if garden is None or garden.placed != Garden.Placed.EXACT or garden.latitude is None:
        return False
    return garden.moved_at is None or garden.moved_at < lot.created_at


def _within_reach(gardens: Iterable[Garden], metres: float) -> Reach:
    """Which other gardens lie within so many metres of each; one query, none for no garden."""
    own = {garden.pk: _place(garden) for garden in gardens}
    if not own:
        return {}
    degrees = metres / _DEGREE_M
    latitudes = [latitude for latitude, _longitude in own.values()]
    rows = Garden.objects.filter(
        placed=Garden.Placed.EXACT,
        latitude__range=(min(latitudes) - degrees, max(latitudes) + degrees),
    )
    around = sorted(
        (*_place(garden), garden.pk) for garden in rows.only("latitude", "longitude")
    )
    norths = [latitude for latitude, _longitude, _pk in around]
    reach: dict[int, dict[int, float]] = {}
    for pk, (latitude, longitude) in own.items():
        first = bisect_left(norths, latitude - degrees)
        band = around[first : bisect_right(norths, latitude + degrees)]
        apart = {
            other: distance_m(lat1=latitude, lon1=longitude, lat2=lat, lon2=lon)
            for lat, lon, other in band
            if other != pk
        }
        reach[pk] = {other: far for other, far in apart.items() if far < metres}
    return reach


def _place(garden: Any) -> tuple[float, float]:
    return float(garden.latitude), float(garden.longitude)


# By species, harvest year and garden: what was grown.
Grown = Mapping[tuple[int, int | None, int | None], list[Growing]]


def _grown_there(stands: list[Lot], required: Mapping[int, float], gardens: set[int]) -> Grown:
    """What was grown of the stands' species in the gardens, in the stands' years: one query."""
    rows = Growing.objects.filter(
        garden__in=gardens,
        lot__harvest_year__in={lot.harvest_year for lot in stands},
        lot__variety__crop__species__in=list(required),
    )
    grown: dict[tuple[int, int | None, int | None], list[Growing]] = defaultdict(list)
    for row in rows.select_related("garden", "lot__variety__crop", "lot__grower"):
        species = row.lot.variety.crop.species_id
        grown[species, row.lot.harvest_year, row.garden_id].append(row)
    return grown


def _near(
    lot: Lot,
    chain: Chain,
    required: Mapping[int, float],
    reach: Reach,
    grown: Grown,
    placed: bool,
) -> tuple[Planting, ...]:
    species, garden = lot.variety.crop.species_id, lot.growing.garden_id or 0
    metres = required[species]
    kin = {lot.variety_id, *(chain.lots[p.parent].variety_id for p in chain.parents[lot.pk])}
    around = {garden: 0.0} if _tells_of_its_own_garden(lot, metres) else {}
    if placed:
        around |= {other: far for other, far in reach[garden].items() if far < metres}
    return tuple(
        Planting(row.lot, far)
        for there, far in around.items()
        for row in grown.get((species, lot.harvest_year, there), ())
        if row.lot.variety_id not in kin
        and (there == garden or _is_placed(row.lot, row.garden))
    )


def _tells_of_its_own_garden(lot: Lot, metres: float) -> bool:
    """Whether another planting in the same garden is nearer than is needed, and was not what
    the grower noted.
    """
    noted = lot.growing.isolation_distance_m
    return metres > GARDEN_M and (noted is None or noted > GARDEN_M)
