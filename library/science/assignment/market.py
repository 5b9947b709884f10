"""Where to begin: what a place among a grower's wishes and a square metre of a garden cost.

One price for whatever a grower may grow moves all pairs at once, so that few steps tell which
pairs could matter. The prices of single pairs begin from there.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from library.science.assignment.frame import Array, Frame
from library.science.assignment.proof import least_beside, rent_of
from library.science.assignment.relaxed import Relaxed

WIDTH = 24  # pairs of each variety that are looked at
AGAIN = 10  # steps after which they are chosen anew
REACH = 0.2  # how far above the best bound a step aims at most
MEMORY, PATIENCE, SHORTER, SHORTEST = 0.7, 20, 0.8, 0.05


class Market:
    """Prices of wishes (R) and of a garden's whole room in this season and the next (2 x G)."""

    def __init__(self, frame: Frame, most_without: int, width: int = WIDTH) -> None:
        self.frame, self.most_without, self.width = frame, most_without, width
        self.wish = np.zeros(len(frame.wish))
        self.room = np.zeros(frame.room_left.shape)
        self.rents = np.zeros(sum(groups.shape[1] for groups in frame.groups))
        left = np.maximum(frame.room_left, 1e-9)
        self.parts = np.where(frame.free, frame.room[:, None] / left[0][None, :], 0.0)
        later = np.where(frame.free, frame.room[:, None] / left[1][None, :], 0.0)
        self.later = later * frame.biennial[:, None]
        self.relaxed = self._choose(np.where(frame.free, 0.0, np.inf))

    def prices(self) -> Array:
        """V x G: what each pair costs."""
        wish = self.wish[self.frame.owner][None, :]
        prices: Array = wish + self.room[0] * self.parts + self.room[1] * self.later
        return prices

    def run(self, above: float, ends: float, stopped: Callable[[], bool]) -> None:
        """Step towards ``above``, the cost of a plan, until it moves little."""
        idle, length, value, turn = 0, 1.0, -np.inf, 0
        best, kept = -np.inf, (self.wish, self.room, self.rents)
        last = [np.zeros_like(price) for price in kept]
        while time.monotonic() < ends and length > SHORTEST and not stopped():
            if turn and (turn % AGAIN == 0 or value > best):
                self.relaxed = self._choose()
            turn += 1
            value, steps = self._look()
            if value > best:
                # what looks better may only have been looked at too narrowly
                self.relaxed = self._choose()
                value, steps = self._look()
            idle += 1
            if value > best + 1e-4 * abs(value):
                best, idle, kept = value, 0, (self.wish, self.room, self.rents)
            if idle > PATIENCE:
                length, idle = length * SHORTER, 0
            target = min(above, max(value, best) + REACH * abs(above))
            last = [step + MEMORY * old for step, old in zip(steps, last, strict=True)]
            size = sum(float((step**2).sum()) for step in last)
            by = length * max(target - value, 0) / max(size, 1e-9)
            self.wish = np.maximum(self.wish + by * last[0], 0)
            self.room = np.maximum(self.room + by * last[1], 0)
            self.rents = np.maximum(self.rents + by * last[2], 0)
        self.wish, self.room, self.rents = kept
        self.relaxed = self._choose()

    def _look(self) -> tuple[float, list[Array]]:
        """The bound at these prices over the pairs looked at, and how each is overdrawn."""
        frame, relaxed = self.frame, self.relaxed
        numbers, gardens = relaxed.numbers, len(frame.gardens)
        wishes = relaxed.wishes(self.prices().reshape(-1)[numbers], self.rents)
        value = float(wishes.paid.sum()) + relaxed.fixed(self.rents, wishes.penalty)
        value -= float(self.wish @ frame.wish + self.room.sum())
        taken = np.flatnonzero(wishes.chosen)
        garden = relaxed.garden[taken]
        room = [
            np.bincount(garden, parts.reshape(-1)[numbers[taken]], minlength=gardens) - 1.0
            for parts in (self.parts, self.later)
        ]
        steps = [
            np.bincount(frame.owner[garden], minlength=len(self.wish))
            - frame.wish.astype(float),
            np.stack(room),
            relaxed.cheapest.crowding(wishes.chosen),
        ]
        for price, step in zip((self.wish, self.room, self.rents), steps, strict=True):
            step[(price <= 0) & (step < 0)] = 0
        return value, steps

    def _choose(self, costs: Array | None = None) -> Relaxed:
        """The pairs that cost each variety least, with what else it would take."""
        frame = self.frame
        costs = self._costs() if costs is None else costs + frame.stake[:, None] * frame.fail
        width = min(self.width, costs.shape[1])
        found = np.argpartition(costs, width - 1, axis=1)[:, :width]
        row = np.arange(len(costs))[:, None]
        numbers = (row * costs.shape[1] + found)[np.isfinite(costs[row, found])]
        return Relaxed(frame, numbers, self.most_without)

    def _costs(self) -> Array:
        frame, relaxed = self.frame, self.relaxed
        rent = rent_of(frame, self.rents)
        prices = self.prices()
        laid = relaxed.laid((prices + rent).reshape(-1)[relaxed.numbers])
        two = least_beside(frame, relaxed.fail, laid)
        one = frame.stake[:, None] * frame.fail[None, :]
        costs = np.where((frame.most >= 2)[:, None], np.minimum(one, two), one) + prices + rent
        return np.where(frame.free, costs, np.inf)
