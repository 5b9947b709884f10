"""The best bundle of varieties for each grower, if every variety paid a price to be grown.

Bundles of three varieties or fewer are tried, the dearest first, until no other can earn more;
for growers who want more there is an upper limit, by their wish or by their room, whichever is
less.
"""

from __future__ import annotations

import numpy as np

from library.science.assignment.frame import CRUMB, Array, Frame
from library.science.assignment.loops import EXACT, best_bundles, records


class Bundles:
    """What growers earn with some free pairs (sorted numbers) at prices of these.

    Of the pairs, sorted by grower, ``offers`` says what a bundle must know: what it is, the
    square metres it takes in this season and the next, and what is left in its garden. Of each
    grower: which offers, how many more varieties are wanted, how many there are by pins, the
    least room of an offer, and all the room there is.
    """

    def __init__(self, frame: Frame, numbers: Array) -> None:
        variety, garden = np.divmod(numbers, len(frame.gardens))
        self.pair = np.argsort(frame.owner[garden], kind="stable")
        v, g = variety[self.pair], garden[self.pair]
        self.grower = frame.owner[g]
        self.offers = records(
            variety=v,
            garden=g,
            species=frame.species[v],
            unsafe=frame.open_ground[v, g],
            room=frame.room[v],
            later=frame.room[v] * frame.biennial[v],
            left=frame.room_left[0][g] + CRUMB,
            later_left=frame.room_left[1][g] + CRUMB,
        )
        every = np.arange(len(frame.wish))
        least = np.full(len(every), np.inf)
        np.minimum.at(least, self.grower, frame.room[v])
        left = np.maximum(frame.room_left[0], 0) + CRUMB
        self.growers = records(
            begins=np.searchsorted(self.grower, every),
            ends=np.searchsorted(self.grower, every, side="right"),
            want=frame.wish,
            load=frame.load,
            least_room=least,
            room=np.bincount(frame.owner, left, minlength=len(every)),
        )
        self.fairness = float(frame.fairness)
        self.orders: tuple[Array, Array] | None = None  # by worth, and by worth for the room
        self.last = np.full((len(every), EXACT), -1)  # the offers of the last bundles

    def best(self, prices: Array) -> tuple[Array, Array]:
        """R: the most that each grower earns; P: the part of each pair in those bundles, 1 or 0
        but for growers who want more than three.
        """
        worth = prices[self.pair]
        if self.orders is None:
            for_room = -worth / self.offers["room"]
            self.orders = (
                np.lexsort((-worth, self.grower)),
                np.lexsort((for_room, self.grower)),
            )
        earned, part = np.zeros(len(self.growers)), np.zeros(len(worth))
        best_bundles(
            self.growers,
            self.offers,
            self.fairness,
            worth,
            self.orders[0],
            self.orders[1],
            self.last,
            earned,
            part,
        )
        of_pair = np.empty_like(part)
        of_pair[self.pair] = part
        return earned, of_pair
