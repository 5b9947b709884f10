"""A plan as it is filled in by hand: pair by pair, nothing that breaks a rule."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from enum import StrEnum

from library.science.assignment.pairs import Pairs
from library.science.assignment.season import Pair

CRUMB = 1e-9  # square metres that rounding may cost


class Clash(StrEnum):
    """Why a pair that is possible alone does not go with the rest of a plan."""

    TAKEN = "taken"
    ENOUGH_GROWERS = "enough_growers"
    GROWER_HAS_IT = "grower_has_it"
    GROWER_IS_FULL = "grower_is_full"
    GARDEN_IS_FULL = "garden_is_full"
    TOO_NEAR_ITS_LIKE = "too_near_its_like"
    WOULD_CROSS = "would_cross"


class Sheet:
    """Pairs that go together, and which others would still fit."""

    def __init__(self, pairs: Pairs, chosen: Iterable[Pair] = ()) -> None:
        """Raises ValueError, with the clash, if the chosen ones do not go together."""
        self.pairs, self.season = pairs, pairs.season
        self.growing: dict[str, set[str]] = defaultdict(set)  # gardens of a variety
        self.grown: dict[str, set[str]] = defaultdict(set)  # varieties of a garden
        self.load: Counter[str] = Counter()
        self.room: dict[int, dict[str, float]] = {1: defaultdict(float), 2: defaultdict(float)}
        self.open_of: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        for variety, garden in sorted(chosen):
            clash = self.clash(variety, garden)
            if clash is not None:
                raise ValueError(f"{variety} in {garden}: {clash.value}.")
            self.add(variety, garden)

    @property
    def chosen(self) -> frozenset[Pair]:
        return frozenset((v, g) for v, gardens in self.growing.items() for g in gardens)

    def clash(self, variety: str, garden: str) -> Clash | None:
        """What keeps a possible pair from being added; None if nothing does."""
        wanted, grower = self.season.variety[variety], self.season.grower_of(garden)
        if garden in self.growing[variety]:
            return Clash.TAKEN
        if len(self.growing[variety]) >= wanted.most_growers:
            return Clash.ENOUGH_GROWERS
        if self.load[grower.key] >= grower.most:
            return Clash.GROWER_IS_FULL
        others = self.growing[variety]
        if any(self.season.garden[g].grower == grower.key for g in others):
            return Clash.GROWER_HAS_IT
        if others & self.pairs.near(self.season.apart_m)[garden]:
            return Clash.TOO_NEAR_ITS_LIKE
        if not self._has_room(variety, garden):
            return Clash.GARDEN_IS_FULL
        return Clash.WOULD_CROSS if self.crossing(variety, garden) else None

    def crossing(self, variety: str, garden: str) -> set[Pair]:
        """The chosen pairs that would cross with this one."""
        if (variety, garden) not in self.pairs.open_ground:
            return set()
        wanted = self.season.variety[variety]
        within = self.pairs.near(wanted.crosses_within_m)[garden] | {garden}
        others = self.open_of[wanted.species]
        return {
            (v, g) for v, gardens in others.items() if v != variety for g in gardens & within
        }

    def _has_room(self, variety: str, garden: str) -> bool:
        wanted, place = self.season.variety[variety], self.season.garden[garden]
        return all(
            self.room[season][garden] + wanted.room_m2 <= place.room_in(season) + CRUMB
            for season in range(1, wanted.seasons + 1)
        )

    def add(self, variety: str, garden: str) -> None:
        wanted = self.season.variety[variety]
        self.growing[variety].add(garden)
        self.grown[garden].add(variety)
        self.load[self.season.garden[garden].grower] += 1
        for season in range(1, wanted.seasons + 1):
            self.room[season][garden] += wanted.room_m2
        if (variety, garden) in self.pairs.open_ground:
            self.open_of[wanted.species][variety].add(garden)

    def remove(self, variety: str, garden: str) -> None:
        """Take a pair off that was added."""
        wanted = self.season.variety[variety]
        self.growing[variety].remove(garden)
        self.grown[garden].remove(variety)
        self.load[self.season.garden[garden].grower] -= 1
        for season in range(1, wanted.seasons + 1):
            self.room[season][garden] -= wanted.room_m2
        self.open_of[wanted.species][variety].discard(garden)


def rarest_first(pairs: Pairs, pinned: Iterable[Pair] = ()) -> Sheet:
    """By hand: the variety with most at stake gets all its growers, the best first; then the
    next.
    """
    sheet = Sheet(pairs, pinned)
    for variety in _by_stake(pairs):
        most = pairs.season.variety[variety].most_growers
        for garden in _best_first(pairs, variety):
            if len(sheet.growing[variety]) >= most:
                break
            if sheet.clash(variety, garden) is None:
                sheet.add(variety, garden)
    return sheet


def everyone_first(pairs: Pairs, pinned: Iterable[Pair] = ()) -> Sheet:
    """By hand: one grower for each variety first, the one with the fewest gardens before the
    others; then a second round, and so on.
    """
    sheet = Sheet(pairs, pinned)
    rounds = max((v.most_growers for v in pairs.season.varieties), default=0)
    few_gardens = sorted(pairs.by_variety, key=lambda v: (len(pairs.by_variety[v]), v))
    for turn in range(1, rounds + 1):
        order = few_gardens if turn == 1 else _by_stake(pairs)
        for variety in order:
            if len(sheet.growing[variety]) < turn:
                _give_one(sheet, variety)
    return sheet


def _give_one(sheet: Sheet, variety: str) -> None:
    for garden in _best_first(sheet.pairs, variety):
        if sheet.clash(variety, garden) is None:
            sheet.add(variety, garden)
            return


def _by_stake(pairs: Pairs) -> list[str]:
    return sorted(pairs.by_variety, key=lambda v: (-pairs.season.variety[v].stake, v))


def _best_first(pairs: Pairs, variety: str) -> list[str]:
    return sorted(pairs.by_variety.get(variety, []), key=pairs.surest_first.__getitem__)
