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

import numpy as np
from scipy.sparse import csr_matrix

from library.science.assignment.bundles import Items, Tried, items_of
from library.science.assignment.frame import Array, Frame

AGAIN = 20  # times that growers' bundles are looked for among the same items
BLOCKS = 4  # of varieties with about equally many pairs
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


@dataclass(frozen=True)
class Two:
    """What is left of the stakes of some varieties with each two of their first gardens.

    ``left`` is first x second x variety: adding and comparing goes along the varieties, which
    are many, while gardens are few.
    """

    rows: Array
    left: Array
    overlap: tuple[Array, Array, Array]
    shared: csr_matrix
    about: tuple[Array, Array]  # in half the digits: what is left, and memory for what is paid

    def least(self, laid: Array, rents: Array, *, exact: bool) -> tuple[Array, Array]:
        """The least that each pays for two, and which two columns. If not ``exact``, to seven
        digits, in half the time.
        """
        left, memory = (self.left, None) if exact else self.about
        price = np.ascontiguousarray(laid[self.rows, : len(left)].T, left.dtype)
        paid = np.add(left, price[:, None, :], out=memory)
        if len(self.overlap[0]):
            paid[self.overlap] -= self.shared @ rents
        least = paid.min(axis=0)
        least += price
        variety = np.arange(len(self.rows))
        first = least.argmin(axis=0)
        second = paid[:, first, variety].argmin(axis=0)
        return least[first, variety], np.stack([first, second], axis=1)


class Relaxed:
    """The relaxation over some free pairs; ``most_without`` varieties may have no grower.
    ``hard`` are growers of whose items more must be tried.
    """

    def __init__(
        self, frame: Frame, numbers: Array, most_without: int, hard: Array | None = None
    ) -> None:
        self.frame, self.numbers, self.most_without = frame, np.sort(numbers), most_without
        self.variety, self.garden = np.divmod(self.numbers, len(frame.gardens))
        self.in_groups, self.groups_of = _memberships(frame, self.variety, self.garden)
        self.items: list[Items] = items_of(frame, self.numbers, hard)
        self.tried: list[Tried] = []
        self.tried_for = 0
        self._lay_out()

    def _lay_out(self) -> None:
        """One row for each variety, with the places of its pairs among ``numbers``."""
        frame, rows = self.frame, len(self.frame.varieties)
        count = np.bincount(self.variety, minlength=rows)
        width = max(1, int(count.max(initial=0)))
        first = np.cumsum(count) - count
        self.column = np.arange(len(self.numbers)) - first[self.variety]
        self.at = np.full((rows, width), -1)
        self.at[self.variety, self.column] = np.arange(len(self.numbers))
        self.missing = self.at < 0
        garden = self.garden[self.at] if len(self.numbers) else np.zeros(self.at.shape, int)
        self.fail = fail = np.where(self.missing, 1.0, frame.fail[garden])
        self.one = np.where(self.missing, np.inf, frame.stake[:, None] * fail)
        self.one[frame.most < 1] = np.inf
        self.many: list[int] = np.flatnonzero(frame.most > 2).tolist()
        may = np.flatnonzero((frame.most == 2) & (count >= 2))
        may = may[np.argsort(count[may], kind="stable")]
        self.twos = [
            self._lay_out_two(rows, int(count[rows].max()), garden, fail)
            for rows in np.array_split(may, BLOCKS)
            if len(rows)
        ]

    def _lay_out_two(self, rows: Array, width: int, garden: Array, fail: Array) -> Two:
        """What two gardens leave of a stake, for varieties with about equally many pairs."""
        frame, here = self.frame, (rows, slice(0, width))
        g, f, there = (np.ascontiguousarray(of[here].T) for of in (garden, fail, ~self.missing))
        apart = ~frame.same_place[g[:, None], g[None, :]]
        apart &= there[:, None] & there[None, :]
        left = frame.stake[rows] * f[:, None] * f[None, :]
        left[~apart] = np.inf
        about = left.astype(np.float32), np.empty(left.shape, np.float32)
        return Two(rows, left, *self._overlaps(rows, apart), about)

    def _overlaps(
        self, rows: Array, apart: Array
    ) -> tuple[tuple[Array, Array, Array], csr_matrix]:
        """Pairs of one variety in one group pay its rent once: where that can happen."""
        row = np.full(len(self.frame.varieties), -1)
        row[rows] = np.arange(len(rows))
        far = np.flatnonzero(self.frame.spread[self.variety] & (row[self.variety] >= 0))
        groups = self.in_groups[far]
        both = (groups @ groups.T).tocoo()
        i, j = far[both.row], far[both.col]
        keep = (self.variety[i] == self.variety[j]) & (i != j)
        i, j = i[keep], j[keep]
        keep = apart[self.column[i], self.column[j], row[self.variety[i]]]
        i, j = i[keep], j[keep]
        where = (self.column[i], self.column[j], row[self.variety[i]])
        return where, self.in_groups[i].multiply(self.in_groups[j]).tocsr()

    def laid(self, values: Array) -> Array:
        """Values of the pairs as one row for each variety; endless where there is no pair."""
        if not len(values):
            return np.full(self.at.shape, np.inf)
        return np.where(self.missing, np.inf, values[self.at])

    def wishes(self, prices: Array, rents: Array, *, exact: bool = True) -> Wishes:
        """The least each variety pays: for no grower, for one, or for two that go together."""
        rows = np.arange(len(self.frame.varieties))
        each = prices + self.in_groups @ rents
        laid = self.laid(each)
        one = self.one + laid
        first = one.argmin(axis=1)
        with_one, with_two = one[rows, first], np.full(len(rows), np.inf)
        pairs = np.zeros((len(rows), 2), dtype=int)
        for block in self.twos:
            with_two[block.rows], pairs[block.rows] = block.least(laid, rents, exact=exact)
        some = np.minimum(with_one, with_two)
        taken = {v: self.under(v, prices, each) for v in self.many}
        for v, under in taken.items():
            some[v] = under.paid
        penalty = self._penalty(some)
        alone = self.frame.stake + np.where(self.frame.pinned, 0.0, penalty)
        chosen = np.zeros(len(self.numbers))
        having = (some <= alone) & np.isfinite(some)
        having[self.many] = False
        ones = np.flatnonzero(having & (with_one <= with_two))
        chosen[self.at[ones, first[ones]]] = 1
        twos = np.flatnonzero(having & (with_one > with_two))
        chosen[self.at[twos, pairs[twos, 0]]] = chosen[self.at[twos, pairs[twos, 1]]] = 1
        for v, under in taken.items():
            if under.paid <= alone[v]:
                chosen[under.taken] = 1
        return Wishes(np.minimum(some, alone), chosen, penalty)

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

    @property
    def is_fresh(self) -> bool:
        """Whether the last bundles were of items chosen at the same prices."""
        return self.tried_for == 1

    def bundles(self, prices: Array, *, anew: bool = False) -> tuple[float, Array]:
        """The most that growers earn, and the shares of pairs in their best bundles.

        Now and then less: which items are worth trying is looked at every few times, or if
        ``anew``.
        """
        earned, chosen = 0.0, np.zeros(len(self.numbers))
        if anew or self.tried_for % AGAIN == 0:
            self.tried = [Tried(items.choose(prices), np.float32) for items in self.items]
            self.tried_for = 0
        self.tried_for += 1
        for tried in self.tried:
            best, places, shares = tried.best(prices)
            earned += float(best.sum())
            taken = places >= 0
            np.add.at(chosen, places[taken], shares[taken])
        return earned, chosen

    def fixed(self, rents: Array, penalty: float) -> float:
        """What is added to payments less earnings; penalties are given back."""
        frame = self.frame
        loads = float((frame.load * (frame.load - 1) / 2).sum()) * frame.fairness
        fee = penalty * self.most_without if self.most_without else 0.0
        return frame.lost + loads - float(rents.sum()) - fee

    def crowding(self, chosen: Array) -> Array:
        """By how many varieties more than one each group is filled."""
        taken, groups = np.flatnonzero(chosen), self.in_groups.shape[1]
        begins = self.in_groups.indptr[taken]
        count = self.in_groups.indptr[taken + 1] - begins
        place = np.arange(count.sum()) + np.repeat(begins - (np.cumsum(count) - count), count)
        variety = np.repeat(self.variety[taken], count)
        once = np.unique(variety * groups + self.in_groups.indices[place])
        return np.bincount(once % groups, minlength=groups) - 1.0


def _memberships(frame: Frame, variety: Array, garden: Array) -> tuple[csr_matrix, Array]:
    """Pairs x groups of all species, and where each species' groups begin."""
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
    return csr_matrix((np.ones(len(row)), (row, column)), shape=shape), begins
