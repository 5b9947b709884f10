"""Why a plan is as it is: what stood in the way, what would help, and why this grower.

Data without words: whoever shows it says it in the reader's language.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from library.science.assignment.pairs import Obstacle, Pairs, protecting
from library.science.assignment.remedies import Remedies, Remedy
from library.science.assignment.season import OfferedGarden, Pair, Planting
from library.science.assignment.sheet import Clash, Sheet
from library.science.isolation import Technique, distance_m

ALTERNATIVES = 3


@dataclass(frozen=True, kw_only=True)
class Missing:
    """A variety with fewer growers than it may have: ``growers`` of ``most_growers``.

    ``in_the_way`` counts the gardens that do not grow it by what is met first there, an
    obstacle or a clash with the plan; ``remedies`` the best of each kind, the cheapest first
    (the order is that of ``remedies.Kind``), each enough by itself.
    """

    variety: str
    growers: int
    most_growers: int
    in_the_way: Mapping[Obstacle | Clash, int]
    remedies: tuple[Remedy, ...]

    @property
    def cheapest(self) -> Remedy | None:
        return self.remedies[0] if self.remedies else None


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another garden that could have the variety instead: ``loss`` of the whole plan then, and
    what it clashes with in the rest of the plan, None if nothing.
    """

    garden: str
    loss: float
    clash: Clash | None


@dataclass(frozen=True, kw_only=True)
class Stand:
    """Something else of the species: so many metres away, in ``garden`` where it is planned."""

    variety: str
    metres: float
    garden: str | None


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why a chosen pair: ``loss`` expected with the plan, ``loss_without`` this pair.

    ``alternatives`` the likeliest other growers, the best first; ``technique`` that makes
    distance needless, None where only distance counts or none is needed; ``nearest_own`` and
    ``nearest_chosen`` the nearest other variety of the species, None if there is none or a
    place is not known; square metres that the variety, and the whole plan, take of the
    garden's room in this season; ``spare_days`` between ripe seed and the season's end.
    """

    pair: Pair
    loss: float
    loss_without: float
    alternatives: tuple[Alternative, ...]
    technique: Technique | None
    nearest_own: Stand | None
    nearest_chosen: Stand | None
    room_m2: float
    room_taken_m2: float
    garden_m2: float
    spare_days: int


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """``missing``: those without a grower first, then by stake; ``reasons`` by pair."""

    missing: tuple[Missing, ...]
    reasons: Mapping[Pair, Reason]


def explain(pairs: Pairs, chosen: frozenset[Pair]) -> Explanation:
    """Explain a plan, of whatever origin. Raises ValueError if its pairs do not go together."""
    season, sheet = pairs.season, Sheet(pairs, chosen)
    remedies = Remedies(sheet)
    lacking = [v for v in season.varieties if len(sheet.growing[v.key]) < v.most_growers]
    lacking.sort(key=lambda v: (bool(sheet.growing[v.key]), -v.stake, v.key))
    loss = season.loss_of(chosen)
    return Explanation(
        missing=tuple(_missing(remedies, variety.key) for variety in lacking),
        reasons={pair: _reason(sheet, pair, loss) for pair in sorted(chosen)},
    )


def _missing(remedies: Remedies, variety: str) -> Missing:
    sheet, pairs = remedies.sheet, remedies.pairs
    met: Counter[Obstacle | Clash] = Counter()
    for garden in pairs.season.garden:
        if garden not in sheet.growing[variety]:
            hindrance = pairs.obstacles.get((variety, garden)) or sheet.clash(variety, garden)
            if hindrance is not None:
                met[hindrance] += 1
    return Missing(
        variety=variety,
        growers=len(sheet.growing[variety]),
        most_growers=pairs.season.variety[variety].most_growers,
        in_the_way=dict(met.most_common()),
        remedies=remedies.of(variety),
    )


def _reason(sheet: Sheet, pair: Pair, loss: float) -> Reason:
    season, (variety, garden) = sheet.season, pair
    wanted, place = season.variety[variety], season.garden[garden]
    others = [season.grower_of(g).resolve for g in sheet.growing[variety] if g != garden]
    left = wanted.stake * math.exp(-math.fsum(others))
    without = loss + left * -math.expm1(-season.grower_of(garden).resolve)
    technique = protecting(wanted, place) if wanted.crosses_within_m else None
    return Reason(
        pair=pair,
        loss=loss,
        loss_without=without,
        alternatives=_alternatives(sheet, pair, without, left),
        technique=technique,
        nearest_own=_nearest_own(sheet, pair),
        nearest_chosen=_nearest_chosen(sheet, pair),
        room_m2=wanted.room_m2,
        room_taken_m2=sheet.room[1][garden],
        garden_m2=place.room_in(1),
        spare_days=place.days - wanted.days,
    )


def _alternatives(
    sheet: Sheet, pair: Pair, without: float, left: float
) -> tuple[Alternative, ...]:
    season, (variety, garden) = sheet.season, pair
    others = sorted(
        set(sheet.pairs.by_variety[variety]) - sheet.growing[variety],
        key=lambda g: (-season.grower_of(g).success, g),
    )
    sheet.remove(variety, garden)
    clashes = ((other, sheet.clash(variety, other)) for other in others)
    found: list[tuple[str, Clash | None]] = []
    for other, clash in clashes:
        found.append((other, clash))
        if clash is None:
            break
    sheet.add(variety, garden)
    # the likeliest, whatever keeps them from it, and the first that nothing keeps from it
    shown = found[:ALTERNATIVES]
    if found and found[-1] not in shown and found[-1][1] is None:
        shown.append(found[-1])
    return tuple(
        Alternative(
            garden=other,
            loss=without + left * math.expm1(-season.grower_of(other).resolve),
            clash=clash,
        )
        for other, clash in shown
    )


def _nearest_own(sheet: Sheet, pair: Pair) -> Stand | None:
    season, (variety, garden) = sheet.season, pair
    place, species = season.garden[garden], season.variety[variety].species
    if not place.place_known:
        return None
    stands = (
        Stand(variety=own.variety, metres=_metres(place, own), garden=None)
        for own in season.plantings
        if own.species == species and own.variety != variety
    )
    return min(stands, key=lambda stand: stand.metres, default=None)


def _nearest_chosen(sheet: Sheet, pair: Pair) -> Stand | None:
    season, (variety, garden) = sheet.season, pair
    place, species = season.garden[garden], season.variety[variety].species
    stands = [
        Stand(variety=v, metres=_metres(place, season.garden[g]), garden=g)
        for v, gardens in sheet.growing.items()
        if v != variety and season.variety[v].species == species
        for g in gardens
        if g == garden or (place.place_known and season.garden[g].place_known)
    ]
    return min(stands, key=lambda s: (s.metres, s.variety, s.garden or ""), default=None)


def _metres(one: OfferedGarden, other: OfferedGarden | Planting) -> float:
    if one is other:
        return 0.0
    return distance_m(
        lat1=one.latitude, lon1=one.longitude, lat2=other.latitude, lon2=other.longitude
    )
