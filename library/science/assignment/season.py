"""What a season's plan is made from: varieties to grow, gardens offered, and what stands there.

All of it is plain data, and nothing here knows a person: keys are whatever the caller chose.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from library.science.isolation import Pollination, Technique

MOST_SUCCESS = 0.99  # nobody's harvest is certain
KEPT_INSIDE_M = 10.0  # common practice, no source: a distance that a garden holds within itself
APART_M = 1000.0  # common practice, no source: one hailstorm, one flood, one stray dog


@dataclass(frozen=True, kw_only=True)
class WantedVariety:
    """A variety that is to be grown out.

    ``isolation_m`` in metres, None where no distance is known for the species; ``plants`` the
    minimum population; ``plants_per_m2``; ``days`` from the last frost to ripe seed;
    ``seasons`` 1 or 2 (a biennial binds its plot for both); ``loss`` the chance, 0 to 1, that
    the variety is lost if nobody grows it, times ``weight`` where some losses count for more;
    at most ``most_growers`` grow it. Raises ValueError for what cannot be.
    """

    key: str
    species: str
    pollination: Pollination
    isolation_m: float | None
    plants: int
    plants_per_m2: float
    days: int
    seasons: int = 1
    loss: float = 1.0
    weight: float = 1.0
    most_growers: int = 2

    def __post_init__(self) -> None:
        _check(self.plants >= 1, f"{self.key}: a population is 1 plant or more.")
        _check(0 < self.plants_per_m2 < math.inf, f"{self.key}: plants need some room.")
        _check(self.seasons in (1, 2), f"{self.key}: seed takes one season or two.")
        _check(0 <= self.loss <= 1, f"{self.key}: a chance of loss lies from 0 to 1.")
        _check(0 <= self.weight < math.inf, f"{self.key}: a weight is 0 or more.")
        _check(self.most_growers >= 1, f"{self.key}: at least one grower must be allowed.")
        known = self.isolation_m is None or 0 <= self.isolation_m < math.inf
        _check(known, f"{self.key}: an isolation distance is 0 metres or more.")

    @property
    def room_m2(self) -> float:
        """The square metres that its minimum population needs."""
        return self.plants / self.plants_per_m2

    @property
    def stake(self) -> float:
        """What is lost, on average, if nobody grows it."""
        return self.loss * self.weight

    @property
    def crosses_within_m(self) -> float:
        """How near another variety of its species may cross with it, in metres.

        0 where none does, where no distance is known, and where the distance is so short
        (10 m or less, as for self-pollinating crops) that it is kept within a garden.
        """
        if self.pollination is Pollination.CLONAL or self.isolation_m is None:
            return 0.0
        return self.isolation_m if self.isolation_m > KEPT_INSIDE_M else 0.0


@dataclass(frozen=True, kw_only=True)
class OfferedGarden:
    """A garden with room for somebody else's varieties this season.

    Degrees; square metres, ``room_next_m2`` in the season after (None: as this one); ``days``
    without frost; the techniques its grower can do there. Raises ValueError outside the ranges.

    A garden that is not ``place_known`` vouches for no distance, and its coordinate (a coarse
    cell's, or 0) is not looked at: a variety that crosses goes there only under a technique
    that makes distance needless, and it counts as another place than any other grower's garden.
    """

    key: str
    grower: str
    latitude: float
    longitude: float
    room_m2: float
    days: int
    room_next_m2: float | None = None
    techniques: frozenset[Technique] = frozenset()
    place_known: bool = True

    def __post_init__(self) -> None:
        on_earth = -90 <= self.latitude <= 90 and -180 <= self.longitude <= 180
        _check(on_earth, f"{self.key}: the coordinate is not on earth.")
        _check(0 <= self.room_m2 < math.inf, f"{self.key}: room is 0 square metres or more.")

    def room_in(self, season: int) -> float:
        """Square metres in the first season (1) or the one after it (2)."""
        later = self.room_m2 if self.room_next_m2 is None else self.room_next_m2
        return self.room_m2 if season == 1 else later


@dataclass(frozen=True, kw_only=True)
class Grower:
    """How many varieties somebody wants at most, and how likely a grow-out of theirs is to
    give seed (0 to 1; more than 0.99 counts as 0.99).
    """

    key: str
    most: int
    success: float

    def __post_init__(self) -> None:
        _check(self.most >= 0, f"{self.key}: nobody grows fewer than no varieties.")
        _check(0 <= self.success <= 1, f"{self.key}: a chance of success lies from 0 to 1.")

    @property
    def resolve(self) -> float:
        """-ln(chance of failing): of two growers of one variety these add up."""
        return -math.log1p(-min(self.success, MOST_SUCCESS))


@dataclass(frozen=True, kw_only=True)
class Planting:
    """Something of a species that flowers in this season whatever is planned."""

    species: str
    variety: str
    latitude: float
    longitude: float


Pair = tuple[str, str]  # a variety's key and a garden's


@dataclass(frozen=True, kw_only=True)
class Season:
    """All that a plan is made from. ``pinned`` pairs are kept, ``forbidden`` ones never used.

    Two growers of one variety garden at least ``apart_m`` metres apart, as far as their places
    are known. ``fairness`` is what a
    second, third … variety of one grower costs, in units of loss, times 1, 2 …: so small that
    it only decides between plans that save alike. Raises ValueError for keys that are doubled
    or do not exist.
    """

    varieties: tuple[WantedVariety, ...]
    gardens: tuple[OfferedGarden, ...]
    growers: tuple[Grower, ...]
    plantings: tuple[Planting, ...] = ()
    pinned: frozenset[Pair] = frozenset()
    forbidden: frozenset[Pair] = frozenset()
    apart_m: float = APART_M
    fairness: float = 1e-4

    def __post_init__(self) -> None:
        for species, metres in self._distances.items():
            _check(len(metres) == 1, f"{species}: one species has one isolation distance.")
        for what, things in (
            ("variety", self.varieties),
            ("garden", self.gardens),
            ("grower", self.growers),
        ):
            _check_once(what, (thing.key for thing in things))
        for garden in self.gardens:
            known = garden.grower in self.grower
            _check(known, f"{garden.key}: nobody is called {garden.grower}.")
        for variety, place in self.pinned | self.forbidden:
            known = variety in self.variety and place in self.garden
            _check(known, f"{variety} in {place}: there is no such variety or garden.")
        both = self.pinned & self.forbidden
        _check(not both, f"{sorted(both)}: pinned and forbidden at once.")

    @cached_property
    def _distances(self) -> dict[str, set[float]]:
        metres: dict[str, set[float]] = {}
        for variety in self.varieties:
            metres.setdefault(variety.species, set()).add(variety.crosses_within_m)
        return metres

    @cached_property
    def variety(self) -> dict[str, WantedVariety]:
        return {variety.key: variety for variety in self.varieties}

    @cached_property
    def garden(self) -> dict[str, OfferedGarden]:
        return {garden.key: garden for garden in self.gardens}

    @cached_property
    def grower(self) -> dict[str, Grower]:
        return {grower.key: grower for grower in self.growers}

    def grower_of(self, garden: str) -> Grower:
        return self.grower[self.garden[garden].grower]

    def loss_of(self, pairs: Iterable[Pair]) -> float:
        """The expected loss over all varieties, if these grow-outs are made.

        Each variety's stake times the chance that every one of its growers fails.
        """
        resolve: dict[str, float] = defaultdict(float)
        for variety, garden in pairs:
            resolve[variety] += self.grower_of(garden).resolve
        return math.fsum(v.stake * math.exp(-resolve[v.key]) for v in self.varieties)

    def unfairness_of(self, pairs: Iterable[Pair]) -> float:
        """What uneven load costs: ``fairness`` times the sum of n (n - 1) / 2 over growers."""
        load = Counter(self.garden[garden].grower for _variety, garden in pairs)
        return self.fairness * sum(n * (n - 1) / 2 for n in load.values())

    def cost_of(self, pairs: Iterable[Pair]) -> float:
        """What is minimised among plans that cover equally many varieties."""
        chosen = list(pairs)
        return self.loss_of(chosen) + self.unfairness_of(chosen)


def _check_once(what: str, keys: Iterable[str]) -> None:
    doubled = [key for key, times in Counter(keys).items() if times > 1]
    _check(not doubled, f"The {what} {doubled[:1]} is named twice.")


def _check(holds: bool, otherwise: str) -> None:
    if not holds:
        raise ValueError(otherwise)
