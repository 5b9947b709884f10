"""The plan as a mixed-integer program, for the HiGHS solver in scipy.

Variables: ``x`` (1 where a garden grows a variety), ``c`` (1 where a variety has a grower),
``w`` (1 where any garden of a group that lies within crossing distance grows a variety of the
species), ``u`` (what a grower's load costs).

The loss is exact for a variety that may have one grower, and for two if few gardens come into
question: there is a variable for each two that go together. Otherwise there is ``t``, the
chance that all its growers fail, held from below by tangents of exp(-z), with z the sum of its
growers' resolve: every tangent lies under the curve, so what the solver proves bounds the true
loss; tangents are added at the z that come up until the two agree.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import combinations

from library.science.assignment.pairs import Pairs
from library.science.assignment.places import cliques
from library.science.assignment.season import Pair

GAP = 1e-5  # where the solver may stop, as a share of the cost
_FEW_GARDENS = 24  # for a variety of which every two get a variable
_FIRST_TANGENTS = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.5)


@dataclass(frozen=True)
class Answer:
    """What the solver found: its best plan, if any, and the value it proved none can beat."""

    chosen: frozenset[Pair] | None
    bound: float
    proven: bool


@dataclass
class _Rows:
    """Constraints low <= sum(coefficient * column) <= high, collected row by row."""

    rows: list[int] = field(default_factory=list)
    columns: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(
        self,
        terms: Iterable[tuple[int, float]],
        low: float = -math.inf,
        high: float = math.inf,
    ) -> None:
        row = len(self.low)
        for column, value in terms:
            self.rows.append(row)
            self.columns.append(column)
            self.values.append(value)
        self.low.append(low)
        self.high.append(high)


class Program:
    """The program over ``candidates``: the possible pairs, or a part of them."""

    def __init__(
        self, pairs: Pairs, candidates: Iterable[Pair], kept: Iterable[Pair] = ()
    ) -> None:
        """``kept`` are candidates that stay chosen, as what is pinned does."""
        self.pairs, self.season = pairs, pairs.season
        self.kept = pairs.season.pinned | set(kept)
        self.candidates = sorted(candidates)
        self.x = {pair: i for i, pair in enumerate(self.candidates)}
        self.columns = len(self.candidates)
        self.of_variety: dict[str, list[str]] = defaultdict(list)
        self.of_garden: dict[str, list[str]] = defaultdict(list)
        for variety, garden in self.candidates:
            self.of_variety[variety].append(garden)
            self.of_garden[garden].append(variety)
        curved = {v for v in self.of_variety if self._is_curved(v)}
        self.c, self.t, self.u = (
            self._block(self.of_variety),
            self._block(curved),
            self._block({self.season.garden[g].grower for g in self.of_garden}),
        )
        self.tangents: dict[str, set[float]] = {v: set(_FIRST_TANGENTS) for v in self.t}
        self.rows = _Rows()
        self._cover()
        self._limits()
        self._crossing()
        self._fairness()
        self.losses = {column: self.season.variety[v].stake for v, column in self.t.items()}
        for variety in self.of_variety.keys() - curved:
            self._exact(variety)

    def _is_curved(self, variety: str) -> bool:
        most = self.season.variety[variety].most_growers
        return most > 2 or (most == 2 and len(self.of_variety[variety]) > _FEW_GARDENS)

    def _exact(self, variety: str) -> None:
        """A variable for having nobody, each one alone, and each two: one of them is 1."""
        wanted, gardens = self.season.variety[variety], self.of_variety[variety]
        fails = {g: math.exp(-self.season.grower_of(g).resolve) for g in gardens}
        nobody = self._column(wanted.stake)
        sets = [(nobody, 1.0)]
        of_garden: dict[str, list[tuple[int, float]]] = {g: [] for g in gardens}
        two = self._going_together(gardens) if wanted.most_growers > 1 else ()
        for together in [*((g,) for g in gardens), *two]:
            column = self._column(wanted.stake * math.prod(fails[g] for g in together))
            sets.append((column, 1.0))
            for garden in together:
                of_garden[garden].append((column, 1.0))
        self.rows.add(sets, low=1, high=1)
        for garden, columns in of_garden.items():
            self.rows.add([*columns, (self.x[variety, garden], -1.0)], low=0, high=0)

    def _column(self, loss: float) -> int:
        column, self.columns = self.columns, self.columns + 1
        self.losses[column] = loss
        return column

    def _going_together(self, gardens: list[str]) -> Iterable[tuple[str, str]]:
        near, season = self.pairs.near(self.season.apart_m), self.season
        for one, other in combinations(gardens, 2):
            if (
                season.garden[one].grower != season.garden[other].grower
                and other not in near[one]
            ):
                yield one, other

    def _block(self, keys: Iterable[str]) -> dict[str, int]:
        names = {key: self.columns + i for i, key in enumerate(sorted(keys))}
        self.columns += len(names)
        return names

    def _ones(self, pairs: Iterable[Pair]) -> list[tuple[int, float]]:
        return [(self.x[pair], 1.0) for pair in pairs]

    def _cover(self) -> None:
        for variety, column in self.c.items():
            growing = self._ones((variety, g) for g in self.of_variety[variety])
            self.rows.add([*growing, (column, -1.0)], low=0)

    def _limits(self) -> None:
        """Growers for each variety, varieties for each grower, room, and places apart."""
        season, of_grower = self.season, self._gardens_of_growers()
        for variety, gardens in self.of_variety.items():
            most = season.variety[variety].most_growers
            self.rows.add(self._ones((variety, g) for g in gardens), high=most)
            for group in self._too_near_for_one(gardens):
                self.rows.add(self._ones((variety, g) for g in group), high=1)
        for grower, gardens in of_grower.items():
            own = [(v, g) for g in gardens for v in self.of_garden[g]]
            self.rows.add(self._ones(own), high=season.grower[grower].most)
        for garden, varieties in self.of_garden.items():
            self._room(garden, varieties)

    def _gardens_of_growers(self) -> Mapping[str, list[str]]:
        gardens: dict[str, list[str]] = defaultdict(list)
        for garden in self.of_garden:
            gardens[self.season.garden[garden].grower].append(garden)
        return gardens

    def _too_near_for_one(self, gardens: list[str]) -> Iterable[list[str]]:
        """Groups of gardens of which one at most grows the variety: one grower's, or near."""
        place = {garden: i for i, garden in enumerate(gardens)}
        near = self.pairs.near(self.season.apart_m)
        owner = {garden: self.season.garden[garden].grower for garden in gardens}
        edges = {
            (place[g], place[other])
            for g in gardens
            for other in (near[g] | {o for o in gardens if owner[o] == owner[g]}) & place.keys()
            if place[g] < place[other]
        }
        for group in cliques(range(len(gardens)), edges):
            if len(group) > 1:
                yield [gardens[i] for i in group]

    def _room(self, garden: str, varieties: list[str]) -> None:
        wanted, place = self.season.variety, self.season.garden[garden]
        for season in (1, 2):
            binding = [v for v in varieties if wanted[v].seasons >= season]
            terms = [(self.x[v, garden], wanted[v].room_m2) for v in binding]
            if terms:
                self.rows.add(terms, high=place.room_in(season))

    def _crossing(self) -> None:
        """In each group of gardens within crossing distance, one variety of a species."""
        by_species: dict[str, list[Pair]] = defaultdict(list)
        for variety, garden in self.candidates:
            if (variety, garden) in self.pairs.open_ground:
                by_species[self.season.variety[variety].species].append((variety, garden))
        for pairs in by_species.values():
            self._species(pairs)

    def _species(self, pairs: list[Pair]) -> None:
        varieties_in: dict[str, set[str]] = defaultdict(set)
        for variety, garden in pairs:
            varieties_in[garden].add(variety)
        if len({variety for variety, _garden in pairs}) < 2:
            return
        gardens = sorted(varieties_in)
        place = {garden: i for i, garden in enumerate(gardens)}
        near = self.pairs.near(self.season.variety[pairs[0][0]].crosses_within_m)
        edges = {
            (place[g], place[other])
            for g in gardens
            for other in near[g] & place.keys()
            if place[g] < place[other]
        }
        for group in cliques(range(len(gardens)), edges):
            self._one_variety([gardens[i] for i in group], varieties_in)

    def _one_variety(self, gardens: list[str], varieties_in: Mapping[str, set[str]]) -> None:
        there: dict[str, list[str]] = defaultdict(list)
        for garden in gardens:
            for variety in varieties_in[garden]:
                there[variety].append(garden)
        if len(there) < 2:
            return
        terms = []
        for variety, places in sorted(there.items()):
            if len(places) == 1:
                terms.append((self.x[variety, places[0]], 1.0))
                continue
            column, self.columns = self.columns, self.columns + 1
            terms.append((column, 1.0))
            for garden in places:
                self.rows.add([(column, 1.0), (self.x[variety, garden], -1.0)], low=0)
        self.rows.add(terms, high=1)

    def _fairness(self) -> None:
        """A grower's n-th variety costs n - 1: the chords of n (n - 1) / 2 at whole numbers."""
        for grower, gardens in self._gardens_of_growers().items():
            own = [self.x[v, g] for g in gardens for v in self.of_garden[g]]
            for n in range(1, self.season.grower[grower].most):
                terms = [(column, -float(n)) for column in own]
                self.rows.add([(self.u[grower], 1.0), *terms], low=-n * (n + 1) / 2)

    def most_covered(self, seconds: float) -> Answer:
        """As many varieties as possible with a grower; the bound is a number of varieties."""
        costs = dict.fromkeys(self.c.values(), -1.0)
        answer = self._solve(costs, _Rows(), seconds)
        return Answer(answer.chosen, math.floor(-answer.bound + 1e-6), answer.proven)

    def least_cost(self, covered: int, seconds: float) -> Answer:
        """The least loss and unfairness with at least so many varieties covered."""
        season = self.season
        costs = self.losses | dict.fromkeys(self.u.values(), season.fairness)
        more = self._losses()
        more.add([(column, 1.0) for column in self.c.values()], low=covered)
        uncovered = sum(v.stake for v in season.varieties if v.key not in self.c)
        answer = self._solve(costs, more, seconds)
        return Answer(answer.chosen, answer.bound + uncovered, answer.proven)

    def best(self, covered: int, seconds: float) -> Answer:
        """As many covered as possible, not fewer than so many, then the least cost, in one; no
        bound comes of it.
        """
        season = self.season
        # Those that are covered anyway count nothing: the solver stops at a share of the whole,
        # and beside what they would count the loss would be next to nothing.
        each = 2 * sum(v.stake for v in season.varieties) + 1
        costs = dict.fromkeys(self.c.values(), -each)
        costs |= self.losses | dict.fromkeys(self.u.values(), season.fairness)
        more = self._losses()
        more.add([(column, 1.0) for column in self.c.values()], low=covered)
        return self._solve(costs, more, seconds, constant=each * covered)

    def _losses(self) -> _Rows:
        rows = _Rows()
        for variety, at in self.tangents.items():
            for z in sorted(at):
                rows.add(self._tangent(variety, z), low=math.exp(-z) * (1 + z))
        return rows

    def _tangent(self, variety: str, z: float) -> list[tuple[int, float]]:
        """t + exp(-z) * sum(resolve * x) >= exp(-z) (1 + z)"""
        slope = math.exp(-z)
        growing = [
            (self.x[variety, g], slope * self.season.grower_of(g).resolve)
            for g in self.of_variety[variety]
        ]
        return [(self.t[variety], 1.0), *growing]

    def sharpen(self, chosen: Iterable[Pair]) -> bool:
        """Add the tangents that a plan's own losses touch; False when all were there."""
        resolve: dict[str, float] = defaultdict(float)
        for variety, garden in chosen:
            resolve[variety] += self.season.grower_of(garden).resolve
        before = sum(map(len, self.tangents.values()))
        for variety, z in resolve.items():
            if variety in self.t:
                self.tangents[variety].add(round(z, 9))
        return sum(map(len, self.tangents.values())) > before

    def _solve(
        self, costs: Mapping[int, float], more: _Rows, seconds: float, constant: float = 0.0
    ) -> Answer:
        """``constant`` is added to the cost, as that of one more column that is always 1."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_matrix

        rows, first = self.rows, len(self.rows.low)
        columns = self.columns + 1
        shape = (first + len(more.low), columns)
        values = np.array([*rows.values, *more.values])
        where = (
            [*rows.rows, *(first + row for row in more.rows)],
            [*rows.columns, *more.columns],
        )
        low, high = np.zeros(columns), np.ones(columns)
        low[-1] = 1
        for column in self.u.values():
            high[column] = np.inf
        for pair in self.kept:
            low[self.x[pair]] = 1
        whole = np.zeros(columns)
        whole[: len(self.candidates)] = 1
        objective = np.zeros(columns)
        objective[-1] = constant
        for column, cost in costs.items():
            objective[column] = cost
        result = milp(
            objective,
            integrality=whole,
            bounds=Bounds(low, high),
            constraints=LinearConstraint(
                csr_matrix((values, where), shape=shape),
                [*rows.low, *more.low],
                [*rows.high, *more.high],
            ),
            options={"time_limit": max(seconds, 0.1), "mip_rel_gap": GAP},
        )
        chosen = None
        if result.x is not None:
            chosen = frozenset(p for p, i in self.x.items() if result.x[i] > 0.5)
        bound = result.mip_dual_bound if result.mip_dual_bound is not None else -math.inf
        return Answer(chosen, bound, result.status == 0)
