"""What the season would cost if varieties and growers only had to agree on average.

Each pair is written twice, once as its variety's wish and once as its grower's, and a price
stands for their having to agree: a variety pays the price of each of its gardens, a grower
earns the prices of his bundle. Whatever the prices, the least that the varieties pay less the
most that the growers earn is no more than any plan costs (Lagrangian decomposition: Guignard &
Kim 1987, Mathematical Programming 39:215-228, from memory). Crossing is priced too: ``rents``
of groups of gardens in which one variety of a species stands at most.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from library.science.assignment.bundles import Bundles
from library.science.assignment.frame import Array, Frame
from library.science.assignment.wishes import Cheapest

TANGENTS = np.linspace(0.0, 8.0, 33)  # of exp(-z), for varieties that may have three or more


@dataclass(frozen=True)
class Wishes:
    """What each variety pays at least, ``penalty`` included if it has no grower; the pairs that
    it chose at that (1, else 0). The penalty is the one at which no more go without than may.
    """

    paid: Array
    chosen: Array
    penalty: float


@dataclass(frozen=True)
class Under:
    """The least that a variety pays under one tangent, and what one more pair may cost there
    (its price less ``slope`` times its resolve) without making that less.
    """

    paid: float
    taken: Array
    slope: float
    dearest: float


class Relaxed:
    """The relaxation over some free pairs; ``most_without`` varieties may have no grower."""

    def __init__(self, frame: Frame, numbers: Array, most_without: int) -> None:
        self.frame, self.numbers, self.most_without = frame, np.sort(numbers), most_without
        self.variety, self.garden = np.divmod(self.numbers, len(frame.gardens))
        self.in_groups = _memberships(frame, self.variety, self.garden)
        self.cheapest = Cheapest(frame, self.numbers, self.in_groups)
        self.many: list[int] = np.flatnonzero(frame.most > 2).tolist()
        self._lay_out()

    @cached_property
    def bundles(self) -> Bundles:
        """What growers would take of these pairs; not wanted of every one that is laid out."""
        return Bundles(self.frame, self.numbers)

    def _lay_out(self) -> None:
        """One row for each variety, with the places of its pairs among ``numbers``."""
        frame, rows = self.frame, len(self.frame.varieties)
        count = np.bincount(self.variety, minlength=rows)
        first = np.cumsum(count) - count
        self.at = np.full((rows, max(1, int(count.max(initial=0)))), -1)
        places = np.arange(len(self.numbers))
        self.at[self.variety, places - first[self.variety]] = places
        self.missing = self.at < 0
        garden = self.garden[self.at] if len(self.numbers) else np.zeros(self.at.shape, int)
        self.fail = np.where(self.missing, 1.0, frame.fail[garden])

    def laid(self, values: Array) -> Array:
        """Values of the pairs as one row for each variety; endless where there is no pair."""
        if not len(values):
            return np.full(self.at.shape, np.inf)
        return np.where(self.missing, np.inf, values[self.at])

    def wishes(self, prices: Array, rents: Array) -> Wishes:
        """The least each variety pays: for no grower, for one, or for two that go together."""
        with_one, with_two, places = self.cheapest.find(prices, rents)
        some = np.minimum(with_one, with_two)
        taken = self._many(prices, rents)
        for v, under in taken.items():
            some[v] = under.paid
        penalty = self._penalty(some)
        alone = self.frame.stake + np.where(self.frame.pinned, 0.0, penalty)
        chosen = np.zeros(len(self.numbers))
        having = (some <= alone) & np.isfinite(some)
        having[self.many] = False
        ones = having & (with_one <= with_two)
        chosen[places[ones, 0]] = 1
        chosen[places[having & ~ones, 1:]] = 1
        for v, under in taken.items():
            if under.paid <= alone[v]:
                chosen[under.taken] = 1
        return Wishes(np.minimum(some, alone), chosen, penalty)

    def _many(self, prices: Array, rents: Array) -> dict[int, Under]:
        """What each pays that may have three growers or more."""
        if not self.many:
            return {}
        each = prices + self.in_groups @ rents
        return {v: self.under(v, prices, each) for v in self.many}

    def _penalty(self, some: Array) -> float:
        """So much that as many varieties as may would rather have no grower."""
        spared = np.sort((some - self.frame.stake)[~self.frame.pinned])[::-1]
        if self.most_without == 0:
            return np.inf
        return (
            max(0.0, float(spared[self.most_without])) if self.most_without < len(spared) else 0
        )

    def under(self, v: int, prices: Array, each: Array) -> Under:
        """Three growers or more: tangents under stake * exp(-z) instead of the curve itself.

        Where two of a variety's gardens may share a group, its rent is left out: too little.
        """
        frame, here = self.frame, self.at[v][~self.missing[v]]
        price = (prices if frame.spread[v] else each)[here]
        resolve = -np.log(frame.fail[self.garden[here]])
        stake = float(frame.stake[v])
        best = Under(-np.inf if len(here) else stake, here[:0], stake, 0.0)
        for z in TANGENTS if len(here) else ():
            slope = frame.stake[v] * np.exp(-z)
            cost = price - slope * resolve
            order = np.argsort(cost)[: frame.most[v]]
            taken = order[cost[order] < 0]
            if len(taken) == 0 and not frame.pinned[v]:
                taken = order[:1]
            paid = float(slope * (1 + z) + cost[taken].sum())
            if paid > best.paid:
                full = len(taken) == frame.most[v] or (len(taken) and cost[taken[-1]] > 0)
                dearest = float(cost[taken[-1]]) if full else 0.0
                best = Under(paid, here[taken], float(slope), dearest)
        return best

    def fixed(self, rents: Array, penalty: float) -> float:
        """What is added to payments less earnings; penalties are given back."""
        frame = self.frame
        loads = float((frame.load * (frame.load - 1) / 2).sum()) * frame.fairness
        fee = penalty * self.most_without if self.most_without else 0.0
        return frame.lost + loads - float(rents.sum()) - fee


def _memberships(frame: Frame, variety: Array, garden: Array) -> csr_matrix:
    """Pairs x groups of all species."""
    begins = np.cumsum([0, *(groups.shape[1] for groups in frame.groups)])
    parts, rows = [], []
    for species, groups in enumerate(frame.groups):
        mine = np.flatnonzero(
            (frame.species[variety] == species) & frame.open_ground[variety, garden]
        )
        part = groups[garden[mine]].tocoo()
        rows.append(mine[part.row])
        parts.append(begins[species] + part.col)
    row = np.concatenate([*rows, np.empty(0, int)]).astype(int)
    column = np.concatenate([*parts, np.empty(0, int)]).astype(int)
    shape = (len(variety), int(begins[-1]))
    return csr_matrix((np.ones(len(row)), (row, column)), shape=shape)
