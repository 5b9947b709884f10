"""Which garden could grow which variety at all, and what stands in the way where none can."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from library.science.assignment.places import near_any, near_pairs
from library.science.assignment.season import OfferedGarden, Pair, Season, WantedVariety
from library.science.isolation import Pollination, Technique

REPLACING = (Technique.BAG, Technique.HAND_POLLINATION, Technique.CAGE)


class Obstacle(StrEnum):
    """What keeps a variety out of a garden, whatever else is planned."""

    FORBIDDEN = "forbidden"
    NO_WISH = "no_wish"
    NO_HOPE = "no_hope"
    TOO_LITTLE_ROOM = "too_little_room"
    TOO_LITTLE_ROOM_NEXT_SEASON = "too_little_room_next_season"
    SEASON_TOO_SHORT = "season_too_short"
    PLACE_NOT_KNOWN = "place_not_known"
    PLANTING_TOO_NEAR = "planting_too_near"


def protecting(variety: WantedVariety, garden: OfferedGarden) -> Technique | None:
    """A technique of this garden's grower that makes distance needless for the variety.

    A cage does not hold back pollen that comes by the wind. Common practice, no source.
    """
    for technique in REPLACING:
        windborne = variety.pollination is Pollination.WIND and technique is Technique.CAGE
        if technique in garden.techniques and not windborne:
            return technique
    return None


@dataclass(frozen=True)
class Pairs:
    """The possible pairs of a season, with the neighbourhoods that bind them together."""

    season: Season
    possible: frozenset[Pair]
    obstacles: Mapping[Pair, Obstacle]

    @cached_property
    def open_ground(self) -> frozenset[Pair]:
        """The possible pairs in which only distance keeps the variety from crossing."""
        return frozenset(
            (v, g)
            for v, g in self.possible
            if self.season.variety[v].crosses_within_m
            and protecting(self.season.variety[v], self.season.garden[g]) is None
        )

    def near(self, metres: float) -> Mapping[str, frozenset[str]]:
        """The gardens nearer to each garden than so many metres; not itself.

        A garden whose place is not known is never among them, and has none.
        """
        if metres not in self._near:
            self._near[metres] = _neighbours(self.season.gardens, metres)
        return self._near[metres]

    @cached_property
    def _near(self) -> dict[float, Mapping[str, frozenset[str]]]:
        return {}

    @cached_property
    def by_variety(self) -> Mapping[str, list[str]]:
        """The gardens that could grow each variety."""
        gardens: dict[str, list[str]] = defaultdict(list)
        for variety, garden in sorted(self.possible):
            gardens[variety].append(garden)
        return gardens

    @cached_property
    def surest_first(self) -> Mapping[str, int]:
        """The rank of each garden by how sure its grower is, the surest 0."""
        ranked = sorted(
            self.season.garden, key=lambda g: (-self.season.grower_of(g).success, g)
        )
        return {garden: rank for rank, garden in enumerate(ranked)}


def _neighbours(
    gardens: tuple[OfferedGarden, ...], metres: float
) -> Mapping[str, frozenset[str]]:
    beside: dict[str, set[str]] = {garden.key: set() for garden in gardens}
    known = [garden for garden in gardens if garden.place_known]
    for i, j in near_pairs([(g.latitude, g.longitude) for g in known], metres):
        beside[known[i].key].add(known[j].key)
        beside[known[j].key].add(known[i].key)
    return {key: frozenset(others) for key, others in beside.items()}


def possible_pairs(season: Season) -> Pairs:
    """Every pair of variety and garden that could be, alone; and the obstacle of each other."""
    obstacles: dict[Pair, Obstacle] = {}
    for variety in season.varieties:
        crossing = gardens_near_plantings(season, variety)
        for garden in season.gardens:
            obstacle = _obstacle(season, variety, garden, garden.key in crossing)
            if obstacle is not None:
                obstacles[variety.key, garden.key] = obstacle
    every = ((v.key, g.key) for v in season.varieties for g in season.gardens)
    return Pairs(season, frozenset(pair for pair in every if pair not in obstacles), obstacles)


def _obstacle(
    season: Season, variety: WantedVariety, garden: OfferedGarden, crossing: bool
) -> Obstacle | None:
    grower = season.grower[garden.grower]
    unsafe = protecting(variety, garden) is None
    tests: Iterable[tuple[Obstacle, bool]] = (
        (Obstacle.FORBIDDEN, (variety.key, garden.key) in season.forbidden),
        (Obstacle.NO_WISH, grower.most == 0),
        (Obstacle.NO_HOPE, grower.success == 0),
        (Obstacle.SEASON_TOO_SHORT, variety.days > garden.days),
        (Obstacle.TOO_LITTLE_ROOM, variety.room_m2 > garden.room_in(1)),
        (
            Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON,
            variety.seasons == 2 and variety.room_m2 > garden.room_in(2),
        ),
        (
            Obstacle.PLACE_NOT_KNOWN,
            not garden.place_known and variety.crosses_within_m > 0 and unsafe,
        ),
        (Obstacle.PLANTING_TOO_NEAR, crossing and unsafe),
    )
    return next((obstacle for obstacle, holds in tests if holds), None)


def gardens_near_plantings(season: Season, variety: WantedVariety) -> set[str]:
    """The gardens nearer than its isolation distance to another variety of its species."""
    others = [
        (planting.latitude, planting.longitude)
        for planting in season.plantings
        if planting.species == variety.species and planting.variety != variety.key
    ]
    known = [garden for garden in season.gardens if garden.place_known]
    places = [(garden.latitude, garden.longitude) for garden in known]
    near = near_any(places, others, variety.crosses_within_m)
    return {known[i].key for i in near}
