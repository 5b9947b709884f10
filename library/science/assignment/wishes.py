"""The one or two gardens that cost each variety least, and how crowded groups get of them."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix

from library.science.assignment.frame import Array, Frame
from library.science.assignment.loops import cheapest, cheapest_two, crowd, records


class Cheapest:
    """The least that varieties pay for one and for two of some pairs (sorted numbers).

    Of each variety: which pairs, its stake, whether it may have just two growers, and whether
    it is ``spread``. Of each pair: the chance to fail, the garden, and which of ``groups``.
    """

    def __init__(self, frame: Frame, numbers: Array, in_groups: csr_matrix) -> None:
        self.variety, garden = np.divmod(numbers, len(frame.gardens))
        every = np.arange(len(frame.varieties))
        in_groups.sort_indices()
        self.varieties = records(
            begins=np.searchsorted(self.variety, every),
            ends=np.searchsorted(self.variety, every, side="right"),
            stake=frame.stake,
            two=frame.most == 2,
            spread=frame.spread,
        )
        self.pairs = records(
            fail=frame.fail[garden],
            garden=garden,
            begins=in_groups.indptr[:-1],
            ends=in_groups.indptr[1:],
        )
        self.groups, self.in_groups = in_groups.indices, in_groups
        self.same_place = frame.same_place
        self.spread = frame.spread[self.variety]
        self.none = frame.most[self.variety] < 1
        self.order: Array | None = None
        self.last = np.full((len(every), 3), -1)  # what was cheapest the last time

    def find(self, prices: Array, rents: Array) -> tuple[Array, Array, Array]:
        """V: what each variety pays at least for one garden, and for two (endless where it
        cannot, or one costs no more); V x 3: the places of the one and of the two, which mean
        something where that is not endless.
        """
        each = prices + self.in_groups @ rents
        # two of a spread variety may share a group, whose rent is paid once
        key = np.where(self.spread, prices, each)
        if self.order is None:
            self.order = np.lexsort((key, self.variety))
        rows = len(self.varieties)
        paid, places = np.full((2, rows), np.inf), self.last.copy()
        cheapest(
            self.varieties,
            self.pairs,
            np.where(self.none, np.inf, each),
            paid[0],
            places,
        )
        cheapest_two(
            self.varieties,
            self.pairs,
            self.same_place,
            self.groups,
            rents,
            key,
            self.order,
            paid,
            places,
        )
        self.last = places
        return paid[0], paid[1], places

    def crowding(self, chosen: Array) -> Array:
        """By how many varieties more than one each group is filled."""
        count = np.full(self.in_groups.shape[1], -1.0)
        crowd(self.varieties, self.pairs, self.groups, chosen, count)
        return count
