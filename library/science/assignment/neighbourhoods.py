"""Making a plan better a corner at a time: some gardens are freed, the rest stays as it is.

The whole program is often too large to be solved well in a minute; a corner of it is solved in
a second. Each corner is some gardens and their nearest, or some varieties and the gardens that
could take them. A corner's best is never worse than what stood there.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping

from library.science.assignment.pairs import Pairs
from library.science.assignment.places import on_earth
from library.science.assignment.season import Pair

SMALLEST, FIRST, LARGEST = 60, 400, 6000  # pairs that are free in a corner
EVERYWHERE = 1e-4  # weight of what has none
QUICK, SLOW = 0.5, 1.5  # seconds: a corner solved sooner may grow, one that took longer shrinks


class Corners:
    """One corner after another, of a size that follows how long the last one took."""

    def __init__(
        self,
        pairs: Pairs,
        candidates: frozenset[Pair],
        weights: Mapping[str, float],
        places: Mapping[str, float],
        size: int = FIRST,
        seed: int = 1,
    ) -> None:
        """``weights`` of varieties and ``places`` of gardens: the more, the oftener they are
        where a corner begins.
        """
        self.weights, self.weight_of = weights, places
        self.pairs, self.chance, self.size = pairs, random.Random(seed), size  # noqa: S311
        self.of_garden: dict[str, list[Pair]] = {}
        self.of_variety: dict[str, list[Pair]] = {}
        for pair in sorted(candidates):
            self.of_variety.setdefault(pair[0], []).append(pair)
            self.of_garden.setdefault(pair[1], []).append(pair)
        self.gardens, self.candidates = sorted(self.of_garden), len(candidates)
        season = pairs.season
        self.places = on_earth(
            [(season.garden[g].latitude, season.garden[g].longitude) for g in self.gardens]
        )

    def took(self, seconds: float) -> None:
        if seconds < QUICK:
            self.size = min(LARGEST, int(self.size * 1.25) + 1)
        elif seconds > SLOW:
            self.size = max(SMALLEST, int(self.size * 0.6))

    def free(self, chosen: frozenset[Pair]) -> set[Pair]:
        """The pairs of one corner: around a place, or around a few varieties."""
        freed: set[Pair] = set()
        order = self._around() if self.chance.random() < 0.5 else self._for_varieties(chosen)
        for pairs in order:
            freed.update(pairs)
            if len(freed) >= self.size:
                break
        return freed

    def was_all(self, freed: set[Pair]) -> bool:
        """Whether a corner held whatever could be free."""
        return len(freed) >= self.candidates

    def _around(self) -> Iterator[list[Pair]]:
        import numpy as np

        weights = [self.weight_of.get(garden, 0.0) + EVERYWHERE for garden in self.gardens]
        centre = self.places[self.chance.choices(range(len(weights)), weights)[0]]
        for i in np.argsort(((self.places - centre) ** 2).sum(axis=1)):
            yield self.of_garden[self.gardens[i]]

    def _for_varieties(self, chosen: frozenset[Pair]) -> Iterator[list[Pair]]:
        """Those with the greatest weights first, by and large; and what stands where they could
        go.
        """
        order = sorted(
            self.of_variety,
            key=lambda v: self.chance.expovariate(self.weights.get(v, 0.0) + EVERYWHERE),
        )
        standing: dict[str, list[Pair]] = {}
        for pair in chosen:
            standing.setdefault(pair[1], []).append(pair)
        for variety in order:
            asked = self.of_variety[variety]
            yield asked
            for _variety, garden in self.chance.sample(asked, min(len(asked), 12)):
                for other, _garden in standing.get(garden, ()):
                    yield self.of_variety[other]
