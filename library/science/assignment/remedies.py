"""What would have to change for a garden to grow a variety that a plan left out of it.

Cheapest first, an order of plain sense and no source: moving a grow-out asks nobody for more
than a promise to somebody else; wanting one variety more is a decision; bag, cage and hand are
learnt; ground has to be dug; and to keep one's own crop from flowering is to give it up. No
remedy is known for a season that is too short, and none is looked for against what somebody
decided (a forbidden pair) or for a grower without any hope of seed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from library.science.assignment.pairs import REPLACING, Obstacle, protecting
from library.science.assignment.places import on_earth
from library.science.assignment.season import Pair, Season, WantedVariety
from library.science.assignment.sheet import CRUMB, Clash, Sheet
from library.science.isolation import Technique

TRIED = 40  # gardens, the likeliest growers first, for which a move of another pair is tried
SPARE = 1e-6  # square metres more than the least, so that rounding does not eat the remedy


class Kind(StrEnum):
    """The kinds of remedy, the cheapest first."""

    MOVE_A_PAIR = "move_a_pair"
    WANT_ONE_MORE = "want_one_more"
    LEARN_A_TECHNIQUE = "learn_a_technique"
    MORE_ROOM = "more_room"
    KEEP_FROM_FLOWERING = "keep_from_flowering"


ORDER = list(Kind)
Hindrance = Obstacle | Clash
_BY_TECHNIQUE = {Obstacle.PLACE_NOT_KNOWN, Obstacle.PLANTING_TOO_NEAR, Clash.WOULD_CROSS}
_BY_WISH = {Obstacle.NO_WISH, Clash.GROWER_IS_FULL}
_BY_ROOM = {
    Obstacle.TOO_LITTLE_ROOM,
    Obstacle.TOO_LITTLE_ROOM_NEXT_SEASON,
    Clash.GARDEN_IS_FULL,
}


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """One change after which ``pair`` fits into the plan.

    ``more_m2`` and ``more_next_m2``: square metres to add in this season and the next;
    ``techniques``: any one of them, in that garden; ``plantings``: places in the season's list
    of those not to flower; ``moved``: a chosen pair, and the garden that takes its variety.
    """

    kind: Kind
    pair: Pair
    more_m2: float = 0.0
    more_next_m2: float = 0.0
    techniques: tuple[Technique, ...] = ()
    plantings: tuple[int, ...] = ()
    moved: tuple[Pair, str] | None = None


def applied(
    season: Season, chosen: frozenset[Pair], remedy: Remedy
) -> tuple[Season, frozenset[Pair]]:
    """The season and the plan after a remedy, its pair among the chosen."""
    garden = season.garden[remedy.pair[1]]
    changed = replace(
        garden,
        techniques=garden.techniques | set(remedy.techniques[:1]),
        room_m2=garden.room_in(1) + remedy.more_m2,
        room_next_m2=garden.room_in(2) + remedy.more_next_m2,
    )
    more = int(remedy.kind is Kind.WANT_ONE_MORE)
    after = replace(
        season,
        gardens=tuple(changed if g.key == garden.key else g for g in season.gardens),
        growers=tuple(
            replace(g, most=g.most + more) if g.key == garden.grower else g
            for g in season.growers
        ),
        plantings=tuple(p for i, p in enumerate(season.plantings) if i not in remedy.plantings),
    )
    if remedy.moved is not None:
        pair, elsewhere = remedy.moved
        chosen = chosen - {pair} | {(pair[0], elsewhere)}
    return after, chosen | {remedy.pair}


class Remedies:
    """Looks for remedies in a plan that is written on a sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet, self.pairs, self.season = sheet, sheet.pairs, sheet.pairs.season
        self._distances: dict[str, tuple[list[int], Any]] = {}
        self._column = {garden.key: i for i, garden in enumerate(self.season.gardens)}

    def of(self, variety: str) -> tuple[Remedy, ...]:
        """The best remedy of each kind for one more grower of a variety, the cheapest first.

        Of one kind the one that takes least ground, then the likeliest grower.
        """
        gardens = sorted(
            (g.key for g in self.season.gardens if g.key not in self.sheet.growing[variety]),
            key=lambda g: (-self.season.grower_of(g).success, g),
        )
        best: dict[Kind, Remedy] = {}
        for remedy in self._simple(variety, gardens):
            found = best.get(remedy.kind)
            if found is None or _ground(remedy) < _ground(found):
                best[remedy.kind] = remedy
        moved = next(self._moves(variety, gardens), None)
        if moved is not None:
            best[Kind.MOVE_A_PAIR] = moved
        return tuple(sorted(best.values(), key=lambda r: ORDER.index(r.kind)))

    def hindrances(self, variety: str, garden: str) -> set[Hindrance]:
        """All that keeps a variety out of a garden, not only what is met first."""
        season, sheet = self.season, self.sheet
        wanted, place = season.variety[variety], season.garden[garden]
        grower, others = season.grower[place.grower], sheet.growing[variety]
        unsafe = wanted.crosses_within_m > 0 and protecting(wanted, place) is None
        tests: dict[Hindrance, bool] = {
            Obstacle.FORBIDDEN: (variety, garden) in season.forbidden,
            Obstacle.NO_HOPE: grower.success == 0,
            Obstacle.SEASON_TOO_SHORT: wanted.days > place.days,
            Clash.ENOUGH_GROWERS: len(others) >= wanted.most_growers,
            Clash.GROWER_IS_FULL: sheet.load[grower.key] >= grower.most,
            Clash.GROWER_HAS_IT: any(season.garden[g].grower == grower.key for g in others),
            Clash.TOO_NEAR_ITS_LIKE: bool(others & self.pairs.near(season.apart_m)[garden]),
            Clash.GARDEN_IS_FULL: any(self._lacking(wanted, garden)),
            Obstacle.PLACE_NOT_KNOWN: unsafe and not place.place_known,
            Obstacle.PLANTING_TOO_NEAR: unsafe and bool(self.plantings_near(variety, garden)),
            Clash.WOULD_CROSS: unsafe and bool(self.crossing(variety, garden)),
        }
        return {hindrance for hindrance, holds in tests.items() if holds}

    def crossing(self, variety: str, garden: str) -> set[Pair]:
        """Chosen pairs with which it would cross; also where it is not a possible pair."""
        wanted = self.season.variety[variety]
        within = self.pairs.near(wanted.crosses_within_m)[garden] | {garden}
        return {
            (v, g)
            for v, gardens in self.sheet.open_of[wanted.species].items()
            if v != variety
            for g in gardens & within
        }

    def _lacking(self, wanted: WantedVariety, garden: str) -> tuple[float, float]:
        """Square metres that lack for it beside the plan, this season and the next."""
        place = self.season.garden[garden]
        lacking = [
            max(0.0, self.sheet.room[s][garden] + wanted.room_m2 - place.room_in(s))
            if s <= wanted.seasons
            else 0.0
            for s in (1, 2)
        ]
        now, later = (m2 + SPARE if m2 > CRUMB else 0.0 for m2 in lacking)
        return now, later

    def plantings_near(self, variety: str, garden: str) -> tuple[int, ...]:
        """Places in the season's list of what grows too near, whatever is planned."""
        wanted, place = self.season.variety[variety], self.season.garden[garden]
        if not place.place_known or not wanted.crosses_within_m:
            return ()
        numbers, metres = self.to_plantings(wanted.species)
        row = metres[self._column[garden]]
        return tuple(
            n
            for n, apart in zip(numbers, row, strict=True)
            if apart < wanted.crosses_within_m and self.season.plantings[n].variety != variety
        )

    def to_plantings(self, species: str) -> tuple[list[int], Any]:
        """The plantings of a species, and metres to them, one row for each garden."""
        if species not in self._distances:
            from scipy.spatial.distance import cdist

            season = self.season
            numbers = [i for i, p in enumerate(season.plantings) if p.species == species]
            there = [season.plantings[i] for i in numbers]
            metres = cdist(
                on_earth([(g.latitude, g.longitude) for g in season.gardens]),
                on_earth([(p.latitude, p.longitude) for p in there]),
            )
            self._distances[species] = (numbers, metres)
        return self._distances[species]

    def _simple(self, variety: str, gardens: list[str]) -> Iterator[Remedy]:
        """Remedies in a garden or with its grower."""
        for garden in gardens:
            left = self.hindrances(variety, garden)
            pair, wanted = (variety, garden), self.season.variety[variety]
            if not left:
                continue
            if left <= _BY_WISH:
                yield Remedy(kind=Kind.WANT_ONE_MORE, pair=pair)
            if left <= _BY_TECHNIQUE:
                place = self.season.garden[garden]
                useful = (t for t in REPLACING if _helps(wanted, place, t))
                yield Remedy(kind=Kind.LEARN_A_TECHNIQUE, pair=pair, techniques=tuple(useful))
            if left <= _BY_ROOM:
                now, later = self._lacking(wanted, garden)
                yield Remedy(kind=Kind.MORE_ROOM, pair=pair, more_m2=now, more_next_m2=later)
            if left == {Obstacle.PLANTING_TOO_NEAR}:
                near = self.plantings_near(variety, garden)
                yield Remedy(kind=Kind.KEEP_FROM_FLOWERING, pair=pair, plantings=near)

    def _moves(self, variety: str, gardens: list[str]) -> Iterator[Remedy]:
        """Chosen pairs that could go elsewhere and make way."""
        sheet, tried = self.sheet, 0
        for garden in gardens:
            if (variety, garden) not in self.pairs.possible or tried >= TRIED:
                continue
            tried += 1
            for pair in sorted(self._in_the_way(variety, garden) - self.season.pinned):
                sheet.remove(*pair)
                elsewhere = self._elsewhere(pair, variety, garden)
                sheet.add(*pair)
                if elsewhere is not None:
                    yield Remedy(
                        kind=Kind.MOVE_A_PAIR, pair=(variety, garden), moved=(pair, elsewhere)
                    )

    def _in_the_way(self, variety: str, garden: str) -> set[Pair]:
        grower = self.season.garden[garden].grower
        own = {
            (v, g.key)
            for g in self.season.gardens
            if g.grower == grower
            for v in self.sheet.grown[g.key]
        }
        crossing = self.crossing(variety, garden)
        return {pair for pair in own if pair[0] != variety} | (
            crossing if len(crossing) == 1 else set()
        )

    def _elsewhere(self, pair: Pair, variety: str, garden: str) -> str | None:
        """Where a pair that was taken off would still go with the other in its place."""
        sheet = self.sheet
        if sheet.clash(variety, garden) is not None:
            return None
        sheet.add(variety, garden)
        places = sorted(
            self.pairs.by_variety[pair[0]],
            key=lambda g: (-self.season.grower_of(g).success, g),
        )
        fit = (g for g in places if g != pair[1] and sheet.clash(pair[0], g) is None)
        found = next(fit, None)
        sheet.remove(variety, garden)
        return found


def _helps(wanted: WantedVariety, place: Any, technique: Technique) -> bool:
    learnt = replace(place, techniques=place.techniques | {technique})
    return protecting(wanted, learnt) is not None


def _ground(remedy: Remedy) -> float:
    return remedy.more_m2 + remedy.more_next_m2
