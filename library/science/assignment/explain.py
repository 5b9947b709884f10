"""Why a plan has this grower for a variety, and what kept another variety out of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from library.science.assignment.pairs import (
    Obstacle,
    Pairs,
    gardens_near_plantings,
    possible_pairs,
    protecting,
)
from library.science.assignment.season import Pair, Season
from library.science.assignment.sheet import Clash, Sheet
from library.science.isolation import Technique, distance_m

MOST_ALTERNATIVES = 3
MOST_MOVES = 40  # gardens for which another place for what stands there is looked for


@dataclass(frozen=True)
class Alternative:
    """Another garden that could grow the variety, and what keeps it from it in this plan."""

    garden: str
    success: float
    clash: Clash | None


@dataclass(frozen=True)
class WhyGrower:
    """What speaks for a chosen pair.

    ``technique`` keeps it from crossing, None where nothing is needed; ``saves`` is the
    expected loss that its grow-out takes away; ``nearest_m`` the distance to the nearest other
    variety of its species that flowers (None: none is known); square metres and days.
    """

    technique: Technique | None
    success: float
    saves: float
    room_m2: float
    garden_m2: float
    spare_days: int
    nearest_m: float | None
    needed_m: float
    alternatives: tuple[Alternative, ...]


class Remedy(StrEnum):
    """What would make room for a variety, the cheapest first (common practice, no source)."""

    MOVE = "move"  # what stands in the way goes to another garden that is free
    ONE_MORE = "one_more"  # a grower takes one variety more than they wished
    TECHNIQUE = "technique"  # a grower bags, cages or pollinates by hand
    ROOM = "room"  # a garden gives so many more square metres


@dataclass(frozen=True)
class Freeing:
    """One remedy, in one garden. ``amount`` is square metres for ROOM, else 0; ``moved`` the
    pair that goes, and ``to`` the garden that it goes to, for MOVE.
    """

    remedy: Remedy
    garden: str
    amount: float = 0.0
    moved: Pair | None = None
    to: str | None = None


@dataclass(frozen=True)
class WhyLeftOut:
    """For a variety without a grower: how many gardens each thing kept it out of."""

    obstacles: Mapping[Obstacle, int]
    clashes: Mapping[Clash, int]
    freeing: Freeing | None = None


@dataclass(frozen=True)
class _Case:
    """What keeps one variety out of one garden; only what a remedy can change is told apart."""

    garden: str
    hopeless: bool
    full: bool
    unsafe: bool
    missing_m2: float
    crossing: frozenset[Pair] = field(default_factory=frozenset)


class Explainer:
    """Reads one plan: a season and the pairs that were chosen."""

    def __init__(self, season: Season, chosen: Iterable[Pair]) -> None:
        self.season, self.chosen = season, frozenset(chosen)
        self.pairs: Pairs = possible_pairs(season)
        self.sheet = Sheet(self.pairs, self.chosen)

    # Why this grower ------------------------------------------------------------------------
    def why_grower(self, variety: str, garden: str) -> WhyGrower:
        """What speaks for a chosen pair. Raises KeyError for one that is not chosen."""
        if (variety, garden) not in self.chosen:
            raise KeyError(f"{variety} in {garden} is not in the plan.")
        season = self.season
        wanted, place = season.variety[variety], season.garden[garden]
        without = self.chosen - {(variety, garden)}
        needs = wanted.crosses_within_m > 0
        return WhyGrower(
            technique=self._technique(variety, garden) if needs else None,
            success=season.grower_of(garden).success,
            saves=season.loss_of(without) - season.loss_of(self.chosen),
            room_m2=wanted.room_m2,
            garden_m2=place.room_m2,
            spare_days=place.days - wanted.days,
            nearest_m=self._nearest(variety, garden) if needs else None,
            needed_m=wanted.crosses_within_m,
            alternatives=tuple(self._alternatives(variety, garden)),
        )

    def _technique(self, variety: str, garden: str) -> Technique:
        found = protecting(self.season.variety[variety], self.season.garden[garden])
        return Technique.DISTANCE if found is None else found

    def _nearest(self, variety: str, garden: str) -> float | None:
        here = self.season.garden[garden]
        if not here.place_known:
            return None
        species = self.season.variety[variety].species
        places = [
            (p.latitude, p.longitude)
            for p in self.season.plantings
            if p.species == species and p.variety != variety
        ]
        for other, where in self.chosen:
            there = self.season.garden[where]
            is_other = other != variety and self.season.variety[other].species == species
            if is_other and there.place_known:
                places.append((there.latitude, there.longitude))
        return min(
            (
                distance_m(lat1=here.latitude, lon1=here.longitude, lat2=north, lon2=east)
                for north, east in places
            ),
            default=None,
        )

    def _alternatives(self, variety: str, garden: str) -> Iterable[Alternative]:
        others = [g for g in self.pairs.by_variety.get(variety, ()) if g != garden]
        best = sorted(others, key=lambda g: (-self.season.grower_of(g).success, g))
        without = Sheet(self.pairs, self.chosen - {(variety, garden)})
        for other in best[:MOST_ALTERNATIVES]:
            success = self.season.grower_of(other).success
            yield Alternative(other, success, without.clash(variety, other))

    # What stood in the way ------------------------------------------------------------------
    def left_out(self) -> list[str]:
        """The wanted varieties for which the plan has nobody."""
        growing = {variety for variety, _garden in self.chosen}
        return [one.key for one in self.season.varieties if one.key not in growing]

    def why_left_out(self, variety: str) -> WhyLeftOut:
        """What kept it out of each garden, counted, and the cheapest thing that would help."""
        obstacles: Counter[Obstacle] = Counter()
        clashes: Counter[Clash] = Counter()
        for garden in self.season.garden:
            if (obstacle := self.pairs.obstacles.get((variety, garden))) is not None:
                obstacles[obstacle] += 1
            elif (clash := self.sheet.clash(variety, garden)) is not None:
                clashes[clash] += 1
        return WhyLeftOut(obstacles, clashes, self._cheapest(variety))

    def _cheapest(self, variety: str) -> Freeing | None:
        cases = [self._case(variety, garden) for garden in self.season.garden]
        open_cases = [case for case in cases if not case.hopeless]
        return self._move(variety, open_cases) or min(
            (free for case in open_cases if (free := self._remedy(case)) is not None),
            key=self._cost,
            default=None,
        )

    def _cost(self, freeing: Freeing) -> tuple:
        order = list(Remedy).index(freeing.remedy)
        success = self.season.grower_of(freeing.garden).success
        return (order, round(freeing.amount, 6), -success, freeing.garden)

    def _case(self, variety: str, garden: str) -> _Case:
        season = self.season
        wanted, place = season.variety[variety], season.garden[garden]
        grower = season.grower[place.grower]
        hopeless = (
            (variety, garden) in season.forbidden
            or grower.success == 0
            or wanted.days > place.days
        )
        missing = max(
            wanted.room_m2 - (place.room_in(number) - self.sheet.room[number][garden])
            for number in range(1, wanted.seasons + 1)
        )
        open_ground = wanted.crosses_within_m > 0 and protecting(wanted, place) is None
        crossing = self._crossing(variety, garden) if open_ground else frozenset()
        unsafe = open_ground and (
            not place.place_known or garden in self._near_plantings[variety] or bool(crossing)
        )
        return _Case(
            garden=garden,
            hopeless=hopeless,
            full=self.sheet.load[grower.key] >= grower.most,
            unsafe=unsafe,
            missing_m2=missing if missing > 1e-9 else 0.0,
            crossing=crossing,
        )

    @cached_property
    def _near_plantings(self) -> Mapping[str, set[str]]:
        return {
            one.key: gardens_near_plantings(self.season, one) for one in self.season.varieties
        }

    def _crossing(self, variety: str, garden: str) -> frozenset[Pair]:
        """The chosen pairs that would cross with the variety, grown there in the open."""
        wanted = self.season.variety[variety]
        within = self.pairs.near(wanted.crosses_within_m)[garden] | {garden}
        others = self.sheet.open_of[wanted.species]
        return frozenset(
            (v, g) for v, gardens in others.items() if v != variety for g in gardens & within
        )

    def _remedy(self, case: _Case) -> Freeing | None:
        """The one thing that would open this garden, if it is one thing."""
        wrong = [case.full, case.unsafe, case.missing_m2 > 0]
        if sum(wrong) != 1:
            return None
        if case.full:
            return Freeing(Remedy.ONE_MORE, case.garden)
        if case.unsafe:
            return Freeing(Remedy.TECHNIQUE, case.garden)
        return Freeing(Remedy.ROOM, case.garden, amount=case.missing_m2)

    def _move(self, variety: str, cases: list[_Case]) -> Freeing | None:
        """A chosen pair that could go to another garden, and with it what is in the way."""
        likely = sorted(cases, key=lambda c: (c.full + c.unsafe + (c.missing_m2 > 0), c.garden))
        for case in likely[:MOST_MOVES]:
            for pair in self._in_the_way(case):
                if (freeing := self._moved(variety, case.garden, pair)) is not None:
                    return freeing
        return None

    def _in_the_way(self, case: _Case) -> list[Pair]:
        if case.unsafe and len(case.crossing) == 1:
            found = set(case.crossing)
        elif case.full or case.missing_m2 > 0:
            grower = self.season.garden[case.garden].grower
            found = {p for p in self.chosen if self.season.garden[p[1]].grower == grower}
        else:
            return []
        return sorted(found - self.season.pinned)

    def _moved(self, variety: str, garden: str, pair: Pair) -> Freeing | None:
        moving, _from = pair
        rest = self.chosen - {pair}
        if (variety, garden) not in self.pairs.possible:
            return None
        sheet = Sheet(self.pairs, rest)
        if sheet.clash(variety, garden) is not None:
            return None
        sheet.add(variety, garden)
        for other in sorted(self.pairs.by_variety.get(moving, ())):
            if other != pair[1] and sheet.clash(moving, other) is None:
                return Freeing(Remedy.MOVE, garden, moved=pair, to=other)
        return None


def counted(counts: Mapping[Obstacle, int] | Mapping[Clash, int]) -> dict[str, int]:
    """Counts by their plain names, for a file."""
    found: dict[str, int] = defaultdict(int)
    for kind, number in counts.items():
        found[kind.value] += number
    return dict(found)
