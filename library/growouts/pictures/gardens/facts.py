"""What the plan of gardens shows, as plain data: places, what stands there, what may cross."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from library.science.assignment.places import near_pairs
from library.science.isolation import distance_m

KEPT_INSIDE_M = 10.0  # as the solver has it: so short a distance is kept within a garden

# WGS84
_EQUATOR_M = 6_378_137.0
_FLATTENING = 1 / 298.257223563


class Kind(StrEnum):
    """Why something stands in a garden; each has a shape of its own, the weightiest first."""

    PROMISED = "promised"
    OFFERED = "offered"
    PLANNED = "planned"
    OWN = "own"


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A garden whose place is known; degrees."""

    key: int
    name: str
    grower: str
    latitude: float
    longitude: float


@dataclass(frozen=True, kw_only=True)
class Stand:
    """Something of a species that stands in a garden.

    ``variety`` tells whether two are the same; ``needs_m`` is how near another variety may not
    come, 0 where none needs to keep away; ``guarded`` where a technique makes distance
    needless, ``unsure`` where only flowering at another time keeps it apart; ``flowers`` the
    year in which it does.
    """

    key: str
    garden: int
    kind: Kind
    species: int
    species_name: str
    variety: str
    name: str
    flowers: int
    needs_m: float = 0.0
    guarded: bool = False
    unsure: bool = False
    technique: str = ""
    pk: int | None = None

    @property
    def radius_m(self) -> float:
        """Of the circle in which another variety of its species may cross with it."""
        if self.kind is Kind.OWN or self.guarded:
            return 0.0
        return self.needs_m

    @property
    def can_cross(self) -> bool:
        return self.needs_m > 0 and not self.guarded


@dataclass(frozen=True, kw_only=True)
class Conflict:
    """Two varieties of one species nearer than they should be; ``one`` is to give seed."""

    one: Stand
    other: Stand
    distance_m: float
    required_m: float

    @property
    def short_m(self) -> float:
        return self.required_m - self.distance_m

    @property
    def unsure(self) -> bool:
        """Whether they may keep apart by not flowering together."""
        return self.one.unsure or self.other.unsure

    @property
    def in_one_garden(self) -> bool:
        return self.one.garden == self.other.garden


def conflicts_of(spots: Iterable[Spot], stands: Iterable[Stand]) -> list[Conflict]:
    """Every two stands of one species and different varieties that flower in the same year
    nearer than the species needs, at least one of them grown for the season; nearest first.

    What stands under a cage, in a bag or is pollinated by hand neither suffers nor harms, as
    the solver takes it.
    """
    places = {spot.key: spot for spot in spots}
    groups: dict[tuple[int, int], list[Stand]] = defaultdict(list)
    for stand in stands:
        if stand.can_cross and stand.garden in places:
            groups[stand.species, stand.flowers].append(stand)
    found = [
        conflict for group in groups.values() for conflict in _conflicts_among(group, places)
    ]
    return sorted(found, key=lambda c: (c.distance_m, c.one.name, c.other.name, c.one.key))


def _conflicts_among(group: Sequence[Stand], places: Mapping[int, Spot]) -> Iterable[Conflict]:
    metres = max(stand.needs_m for stand in group)
    at = [places[stand.garden] for stand in group]
    for i, j in near_pairs([(spot.latitude, spot.longitude) for spot in at], metres):
        one, other = sorted((group[i], group[j]), key=_weight)
        if one.kind is Kind.OWN or one.variety == other.variety:
            continue
        apart = _apart(at[i], at[j])
        if apart < metres:
            yield Conflict(one=one, other=other, distance_m=apart, required_m=metres)


def _weight(stand: Stand) -> tuple[int, str]:
    return list(Kind).index(stand.kind), stand.key


def _apart(one: Spot, other: Spot) -> float:
    if one.key == other.key:
        return 0.0
    return distance_m(
        lat1=one.latitude, lon1=one.longitude, lat2=other.latitude, lon2=other.longitude
    )


@dataclass(frozen=True)
class Projection:
    """Metres east and north of a middle, on the plane that touches the ellipsoid there.

    Within 30 km of the middle, up to 65 degrees of latitude, distances are true to 0.5 %.
    """

    latitude: float
    longitude: float

    def metres(self, latitude: float, longitude: float) -> tuple[float, float]:
        """East and north of the middle, in metres."""
        sine = math.sin(math.radians(self.latitude))
        eccentricity = _FLATTENING * (2 - _FLATTENING)
        root = math.sqrt(1 - eccentricity * sine**2)
        across = _EQUATOR_M / root * math.cos(math.radians(self.latitude))
        along = _EQUATOR_M * (1 - eccentricity) / root**3
        east = (longitude - self.longitude + 180) % 360 - 180
        return (
            math.radians(east) * across,
            math.radians(latitude - self.latitude) * along,
        )


def projection_of(places: Sequence[tuple[float, float]]) -> Projection:
    """Around the middle of places; across the date line too."""
    latitudes = [latitude for latitude, _longitude in places]
    first = places[0][1]
    east = [(longitude - first + 180) % 360 - 180 for _latitude, longitude in places]
    middle = (first + (min(east) + max(east)) / 2 + 180) % 360 - 180
    return Projection((min(latitudes) + max(latitudes)) / 2, middle)
