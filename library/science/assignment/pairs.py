"""Which garden could grow which variety at all, and what stands in the way where none can."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from library.science.assignment.places import Place, near_any, near_pairs
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
        bare: dict[Pollination, set[str]] = {}  # what protects goes by pollination alone
        open_ground: set[Pair] = set()
        for key, gardens in self.by_variety.items():
            variety = self.season.variety[key]
            if variety.crosses_within_m == 0:
                continue
            if variety.pollination not in bare:
                bare[variety.pollination] = {
                    g.key for g in self.season.gardens if protecting(variety, g) is None
                }
            open_ground.update(
                (key, g) for g in bare[variety.pollination].intersection(gardens)
            )
        return frozenset(open_ground)

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
        for variety, garden in self.possible:
            gardens[variety].append(garden)
        for key in sorted(gardens):
            gardens[key] = sorted(gardens.pop(key))
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
    possible: set[Pair] = set()
    obstacles: dict[Pair, Obstacle] = {}
    near: dict[tuple, set[str]] = {}
    for variety in season.varieties:
        # many varieties of a species have the same ones
        others = _others_of_its_species(season, variety)
        key = others, variety.crosses_within_m
        if key not in near:
            near[key] = _gardens_near(season, *key)
        for garden in season.gardens:
            obstacle = _obstacle(season, variety, garden, garden.key in near[key])
            if obstacle is None:
                possible.add((variety.key, garden.key))
            else:
                obstacles[variety.key, garden.key] = obstacle
    return Pairs(season, frozenset(possible), obstacles)


def _obstacle(
    season: Season, variety: WantedVariety, garden: OfferedGarden, crossing: bool
) -> Obstacle | None:
    return (
        _of_grower(season, variety, garden)
        or _of_garden(variety, garden)
        or _of_place(variety, garden, crossing)
    )


def _of_grower(
    season: Season, variety: WantedVariety, garden: OfferedGarden
) -> Obstacle | None:
    grower = season.grower[garden.grower]
    if (variety.key, garden.key) in season.forbidden:
        return Obstacle.FORBIDDEN
    if grower.most == 0:
        return Obstacle.NO_WISH
    return Obstacle.NO_HOPE if grower.success == 0 else None


def _of_garden(variety: WantedVariety, garden: OfferedGarden) -> Obstacle | None:
    if variety.days > garden.days:
        return Obstacle.SEASON_TOO_SHORT
    if variety.room_m2 > garden.room_m2:
        return Obstacle.TOO_LITTLE_ROOM
    if variety.seasons == 2 and variety.room_m2 > garden.room_in(2):
        return Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON
    return None


def _of_place(variety: WantedVariety, garden: OfferedGarden, crossing: bool) -> Obstacle | None:
    not_known = not garden.place_known and variety.crosses_within_m > 0
    if not (crossing or not_known) or protecting(variety, garden) is not None:
        return None
    return Obstacle.PLACE_NOT_KNOWN if not_known else Obstacle.PLANTING_TOO_NEAR


def _others_of_its_species(season: Season, variety: WantedVariety) -> tuple[Place, ...]:
    return tuple(
        (planting.latitude, planting.longitude)
        for planting in season.plantings
        if planting.species == variety.species and planting.variety != variety.key
    )


def _gardens_near(season: Season, places: tuple[Place, ...], metres: float) -> set[str]:
    """The gardens nearer to one of the places than so many metres."""
    known = [garden for garden in season.gardens if garden.place_known]
    near = near_any([(g.latitude, g.longitude) for g in known], places, metres)
    return {known[i].key for i in near}
