"""The best bundle of varieties for each grower, if every variety paid a price to be grown.

Bundles of three varieties or fewer are tried; for growers who want more there is an upper
limit, by their wish or by their room, whichever is less.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from library.science.assignment.frame import CRUMB, Array, Frame

EXACT = 3  # varieties in a bundle that is found by trying
TRIED = {2: 24, 3: 16}  # items of a grower that are tried together
LOOKED_AT = 48  # the dearest items, from which those to try are chosen
# The same of growers for whom that was found to be too few, and to prove what they earn.
MORE_TRIED, MORE_LOOKED_AT = {2: 60, 3: 28}, 80
LARGEST = 60  # items of one grower that are tried together to prove what he earns


@cache
def _sets(items: int, size: int) -> Array:
    return np.array(list(combinations(range(items), size)), dtype=int).reshape(-1, size)


@dataclass(frozen=True)
class Items:
    """The pairs of several growers who want equally many more varieties: one row for each.

    ``at`` gives the place of each item in the array of prices, -1 where a row has no more;
    ``hard`` says that for these growers more must be tried.
    """

    frame: Frame
    want: int
    growers: Array
    at: Array
    variety: Array
    garden: Array
    hard: bool = False

    def worth(self, prices: Array) -> Array:
        return np.where(self.at >= 0, prices[np.maximum(self.at, 0)], -np.inf)

    def of(self, rows: Array, columns: Array) -> Items:
        """Some rows, and of each some columns."""
        at = rows[:, None], columns
        return Items(
            self.frame,
            self.want,
            self.growers[rows],
            self.at[at],
            self.variety[at],
            self.garden[at],
            self.hard,
        )

    def choose(self, prices: Array) -> Items:
        """The items worth trying at these prices: the dearest of those that others of fewer
        species could stand for than a bundle holds.
        """
        tried, looked_at = (MORE_TRIED, MORE_LOOKED_AT) if self.hard else (TRIED, LOOKED_AT)
        size = tried.get(self.want) or self.at.shape[1]
        if self.at.shape[1] <= size or not 1 < self.want <= EXACT:
            return self
        rows, worth = np.arange(len(self.at)), self.worth(prices)
        looked = _in_order(worth, looked_at)
        few, worth = self.of(rows, looked), np.take_along_axis(worth, looked, 1)
        worth[few._dispensable()] -= 1e6
        return few.of(rows, _dearest(worth, size))

    def _stood_for(self) -> Array:
        """Row x one x other: is one, dearer than another, no larger and in the same garden?"""
        frame, v, g = self.frame, self.variety, self.garden
        room, biennial = frame.room[v], frame.biennial[v]
        stands: Array = room[:, :, None] <= room[:, None, :]
        stands &= ~biennial[:, :, None] | biennial[:, None, :]
        stands &= g[:, :, None] == g[:, None, :]
        stands &= np.triu(np.ones(stands.shape[1:], dtype=bool), 1)
        return stands

    def most(self, prices: Array) -> tuple[Array, Array, Array]:
        """What each grower earns at most, by all his items; the places of a bundle's; and the
        growers for whom trying few would have missed it.
        """
        tried = Tried(self.choose(prices))
        most, places, _shares = tried.best(prices)
        if not 1 < self.want <= EXACT:
            return most, places, self.growers[:0]
        of_few, worth = most.copy(), self.worth(prices)
        unsure = np.flatnonzero(self._outside(prices, tried.items) > most)
        for row in self._all_needed(unsure, prices, most, places):
            few = self._worth_trying(int(row), worth[row], float(most[row]))
            largest = few.of(np.array([0]), _dearest(few.worth(prices), LARGEST))
            value, place, _shares = Tried(largest).best(prices)
            if value[0] > most[row]:
                most[row], places[row] = value[0], place[0]
            most[row] = max(most[row], few._outside(prices, largest)[0])
        return most, places, self.growers[most > of_few]

    def _all_needed(self, rows: Array, prices: Array, most: Array, places: Array) -> Array:
        """Try all items that a best bundle could need, of all growers at once who have few of
        them, and overwrite their ``most`` and ``places``; the rows of the others.
        """
        if not len(rows):
            return rows
        dear = self._dear(self.worth(prices)[rows], most[rows])
        looked = _in_order(dear, MORE_LOOKED_AT)
        few, dear = self.of(rows, looked), dear > 0
        needed = np.take_along_axis(dear, looked, 1) & ~few._dispensable()
        ready = (dear.sum(axis=1) <= MORE_LOOKED_AT) & (
            needed.sum(axis=1) <= MORE_TRIED[self.want]
        )
        width = max(1, int(needed[ready].sum(axis=1).max(initial=0)))
        columns = np.argsort(~needed[ready], axis=1, kind="stable")[:, :width]
        tried = few.of(np.flatnonzero(ready), columns)
        value, found, _shares = Tried(tried).best(prices)
        better = value > most[rows[ready]]
        at = rows[ready][better]
        most[at], places[at] = value[better], found[better]
        return rows[~ready]

    def _dispensable(self) -> Array:
        """Row x item: do items of as many species as a bundle holds stand for it?

        The bundle's other varieties rule out one species each, so that one is always left.
        """
        kinds: Array = self.frame.species[self.variety]
        stands = self._stood_for()
        for _others in range(self.want - 1):
            first = np.take_along_axis(kinds, stands.argmax(axis=1), 1)
            stands &= kinds[:, :, None] != first[:, None, :]
        return np.asarray(stands.any(axis=1))

    def _dear(self, worth: Array, found: Array) -> Array:
        """What items are worth, and nothing where that is too little to lift any bundle above
        what was found.
        """
        beside = self._beside(worth)[:, None]
        return np.where((worth > 0) & (worth + beside > found[:, None]), worth, -np.inf)

    def _beside(self, worth: Array) -> Array:
        """The most that the others of a bundle could earn beside one item."""
        others: Array = np.maximum(-np.sort(-worth, axis=1)[:, : self.want - 1], 0).sum(axis=1)
        return others

    def _outside(self, prices: Array, tried: Items) -> Array:
        """The most that a bundle with an item that was not tried could earn."""
        worth = self.worth(prices)
        untried = ~(self.at[:, :, None] == tried.at[:, None, :]).any(axis=2)
        last = np.where(untried, worth, -np.inf).max(axis=1, initial=-np.inf)
        most: Array = np.where(last > 0, last + self._beside(worth), 0.0)
        return most

    def _worth_trying(self, row: int, worth: Array, found: float) -> Items:
        """One grower without the items that no best bundle needs.

        Those too cheap to lift any bundle above what was found; those that others stand for.
        """
        dear = self._dear(worth[None, :], np.array([found]))
        columns = _in_order(dear, max(1, int((dear > 0).sum())))
        few = self.of(np.array([row]), columns)
        return few.of(np.array([0]), np.flatnonzero(~few._dispensable()[0])[None, :])


class Tried:
    """All bundles of some items, with what keeps some of them from being.

    What they cost is bundle x grower: adding and comparing goes along the growers. In half the
    ``digits`` it takes half the time.
    """

    def __init__(self, items: Items, digits: type = np.float64) -> None:
        self.items, self.frame, self.want = items, items.frame, items.want
        self.uneven: list[tuple[Array, Array]] = []
        if 1 < self.want <= EXACT:
            clash = np.ascontiguousarray(self._clash().transpose(1, 2, 0))
            for size in range(1, min(self.want, items.at.shape[1]) + 1):
                sets = _sets(items.at.shape[1], size)
                self.uneven.append((sets, self._costs(sets, clash).astype(digits)))

    def best(self, prices: Array) -> tuple[Array, Array, Array]:
        """For each grower the most that a bundle earns, and the places and shares of its items
        (-1 and any where it has fewer).
        """
        worth = self.items.worth(prices)
        if self.want > EXACT:
            return self._limit(worth)
        rows = np.arange(len(worth))
        if self.want == 1:
            worth -= (self.frame.fairness * self.frame.load[self.items.growers])[:, None]
            top = worth.argmax(axis=1)
            best = worth[rows, top]
            places = np.where(best > 0, self.items.at[rows, top], -1)[:, None]
            return np.maximum(best, 0), places, np.ones(places.shape)
        best = np.zeros(len(worth))
        places = np.full((len(worth), self.want), -1)
        for sets, costs in self.uneven:
            of_item = np.ascontiguousarray(worth.T, costs.dtype)
            earned = of_item[sets[:, 0]]
            for i in range(1, sets.shape[1]):
                earned += of_item[sets[:, i]]
            earned -= costs
            most = earned.max(axis=0)
            better = np.flatnonzero(most > best)
            which = (earned[:, better] == most[better]).argmax(axis=0)
            best[better], places[better] = most[better], -1
            places[better, : sets.shape[1]] = self.items.at[better[:, None], sets[which]]
        return best, places, np.ones(places.shape)

    def _clash(self) -> Array:
        """Which two items of a grower do not go together."""
        frame, v, g = self.frame, self.items.variety, self.items.garden
        one, other = (slice(None), slice(None), None), (slice(None), None, slice(None))
        room, later = frame.room[v], frame.room[v] * frame.biennial[v]
        full = (room[one] + room[other] > frame.room_left[0][g][one] + CRUMB) | (
            later[one] + later[other] > frame.room_left[1][g][one] + CRUMB
        )
        unsafe, species = frame.open_ground[v, g], frame.species[v]
        cross = unsafe[one] & unsafe[other] & (species[one] == species[other])
        clash: Array = (v[one] == v[other]) | ((g[one] == g[other]) & (full | cross))
        return clash

    def _costs(self, sets: Array, clash: Array) -> Array:
        """What the load of each bundle costs; endless where it cannot be."""
        size, frame = sets.shape[1], self.frame
        load = frame.load[self.items.growers]
        uneven = frame.fairness * (size * load + size * (size - 1) / 2)
        cannot = np.zeros((len(sets), len(load)), dtype=bool)
        for i, j in combinations(range(size), 2):
            cannot |= clash[sets[:, i], sets[:, j]]
        if size == EXACT:
            cannot |= self._too_large(sets)
        return np.where(cannot, np.inf, uneven[None, :])

    def _too_large(self, sets: Array) -> Array:
        """Bundle x grower: three of one garden that find no room in it together."""
        frame, v, g = self.frame, self.items.variety.T, self.items.garden.T
        one_garden = np.ones((len(sets), v.shape[1]), dtype=bool)
        for i in range(1, EXACT):
            one_garden &= g[sets[:, 0]] == g[sets[:, i]]
        too_large = np.zeros_like(one_garden)
        for left, room in zip(
            frame.room_left, (frame.room[v], frame.room[v] * frame.biennial[v]), strict=True
        ):
            taken = room[sets[:, 0]]
            for i in range(1, EXACT):
                taken += room[sets[:, i]]
            too_large |= taken > left[g][sets[:, 0]] + CRUMB
        return one_garden & too_large

    def _limit(self, worth: Array) -> tuple[Array, Array, Array]:
        """For growers who want many: the dearest so many, or as much as finds room in parts."""
        frame, items = self.frame, self.items
        worth = np.maximum(worth, 0)
        rows = np.arange(len(worth))[:, None]
        by_worth = np.argsort(-worth, axis=1)
        whole = np.broadcast_to(np.arange(worth.shape[1]) < self.want, worth.shape)
        dearest = (worth[rows, by_worth] * whole).sum(axis=1)
        room = frame.room[items.variety]
        left = np.maximum(frame.room_left[0], 0) + CRUMB
        total = np.bincount(frame.owner, left, minlength=len(frame.wish))[items.growers]
        by_room = np.argsort(-worth / room, axis=1)
        taken = room[rows, by_room]
        parts = np.clip((total[:, None] - np.cumsum(taken, axis=1) + taken) / taken, 0, 1)
        roomy = (worth[rows, by_room] * parts).sum(axis=1)
        narrow = (roomy < dearest)[:, None]
        order = np.where(narrow, by_room, by_worth)
        shares = np.where(narrow, parts, whole) * (worth[rows, order] > 0)
        return np.minimum(roomy, dearest), items.at[rows, order], shares


def _dearest(worth: Array, size: int) -> Array:
    if size >= worth.shape[1]:
        return np.broadcast_to(np.arange(worth.shape[1]), worth.shape)
    found: Array = np.argpartition(-worth, size - 1, axis=1)[:, :size]
    return found


def _in_order(worth: Array, size: int) -> Array:
    """The columns of the dearest, the dearest first."""
    found = _dearest(worth, size)
    order = np.argsort(-np.take_along_axis(worth, found, 1), axis=1, kind="stable")
    columns: Array = np.take_along_axis(found, order, 1)
    return columns


def items_of(frame: Frame, numbers: Array, hard: Array | None = None) -> list[Items]:
    """The given free pairs (sorted numbers), by how many more varieties their growers want and
    by whether they are ``hard`` (numbers of growers).
    """
    variety, garden = np.divmod(numbers, len(frame.gardens))
    grower = frame.owner[garden]
    is_hard = np.isin(grower, np.zeros(0, dtype=int) if hard is None else hard)
    found = []
    kinds = sorted(set(zip(frame.wish[grower].tolist(), is_hard.tolist(), strict=True)))
    for want, more in kinds:
        if want == 0:
            continue
        mine = np.flatnonzero((frame.wish[grower] == want) & (is_hard == more))
        mine = mine[np.argsort(grower[mine], kind="stable")]
        growers, first, count = np.unique(grower[mine], return_index=True, return_counts=True)
        at = np.full((len(growers), count.max()), -1)
        row = np.repeat(np.arange(len(growers)), count)
        at[row, np.arange(len(mine)) - np.repeat(first, count)] = mine
        there = np.maximum(at, 0)
        items = variety[there], garden[there]
        found.append(Items(frame, int(want), growers, at, *items, hard=more))
    return found
