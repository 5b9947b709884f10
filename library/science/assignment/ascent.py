"""Raising the bound: prices go up where more want a pair than give it, and down elsewhere.

A step is worked out over the pairs that have a price. A proof says what holds for all of them,
and which others want one.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from library.science.assignment.frame import Array, Frame
from library.science.assignment.market import Market
from library.science.assignment.proof import Proof, prove
from library.science.assignment.relaxed import Relaxed
from library.science.assignment.steps import Direction, Pace

LACKING = 0.02  # of the value, that was not proved: many pairs have no price yet
REACH = 0.15  # how far above the best value a step aims at most
FORGOTTEN = 1e-4  # chosen on average less often than this
FEW = 12_000  # pairs of which none is taken away
KEPT = 80  # pairs of each variety that stay anyway
MOVED = 1e-5  # of the bound: less is no movement
FRUITLESS = 2  # times of beginning again that brought no movement
BLEND = 0.03  # of each step in what was chosen on average


class Ascent:
    """Prices of some pairs and rents of groups, and what they prove."""

    def __init__(self, frame: Frame, numbers: Array, most_without: int) -> None:
        self.frame, self.most_without = frame, most_without
        self.rents = np.zeros(sum(groups.shape[1] for groups in frame.groups))
        self.bound, self.rose_to, self.fruitless = -np.inf, -np.inf, 0
        self.pace, self.of_rents = Pace(), Direction(np.ones(len(self.rents)))
        self._take(Relaxed(frame, numbers, most_without), np.zeros(len(numbers)))

    @classmethod
    def after(cls, market: Market) -> Ascent:
        """From the prices of a market on, with the pairs that they say could matter."""
        ascent = cls(market.frame, market.relaxed.numbers, market.most_without)
        ascent.prices = market.prices().reshape(-1)[ascent.relaxed.numbers]
        ascent.rents = market.rents
        ascent.kept = (ascent.prices, ascent.rents)
        return ascent

    def allow(self, most_without: int) -> None:
        """From now on only so many varieties may have no grower: fewer than before."""
        if most_without < self.most_without:
            self.most_without = self.relaxed.most_without = most_without
            self.value = -np.inf

    def _take(self, relaxed: Relaxed, prices: Array) -> None:
        self.relaxed, self.prices = relaxed, prices
        self.value = -np.inf
        self.kept, self.passed = (self.prices, self.rents), False
        self.average = np.zeros(len(prices))
        self.of_prices = Direction.by_stake(self.frame.stake[relaxed.variety])

    def climb(
        self,
        above: float,
        ends: float,
        stopped: Callable[[], bool],
        last: float = math.inf,
    ) -> bool:
        """Step by step towards ``above``, the cost of a plan. True when no longer worth it.

        At the moment ``last``, if not sooner, steps are to be the shortest.
        """
        begun, steps = time.monotonic(), 0
        while time.monotonic() < ends and not stopped():
            self._step(above)
            steps += 1
            # More than a plan costs cannot be so: prices are lacking. Then none is taken away.
            self.passed = self.value >= above
            if self.pace.is_over or self.passed:
                return True
        self.pace.leave_time((last - ends) * steps / max(ends - begun, 1e-9))
        return False

    def _step(self, above: float) -> None:
        relaxed = self.relaxed
        wishes = relaxed.wishes(self.prices, self.rents)
        earned, given = relaxed.bundles.best(self.prices)
        value = float(wishes.paid.sum() - earned.sum())
        value += relaxed.fixed(self.rents, wishes.penalty)
        if value > self.value:
            self.value, self.kept = value, (self.prices, self.rents)
        self.average += BLEND * ((wishes.chosen + given) / 2 - self.average)
        crowded = relaxed.cheapest.crowding(wishes.chosen)
        crowded[(self.rents <= 0) & (crowded < 0)] = 0
        size = self.of_prices.bend(wishes.chosen - given) + self.of_rents.bend(crowded)
        target = min(above, max(value, self.value) + REACH * abs(above))
        by = self.pace.length * max(target - value, 1e-6 * abs(above)) / max(size, 1e-9)
        self.prices = self.prices + self.of_prices.step(by)
        self.rents = np.maximum(self.rents + self.of_rents.step(by), 0)
        self.pace.step()

    def prove(self) -> Proof:
        """What the best prices so far prove of all possible pairs."""
        proof = prove(self.relaxed, *self.kept)
        if proof.bound > self.bound:
            self.bound, self.best = proof.bound, proof
        return proof

    def widen(self, proof: Proof) -> int:
        """Give a price to the pairs that the proof found worth one, and take it from those that
        nobody chose of late; how many were added.

        It goes on from where it is, or from the best prices, with long steps, where so many
        were added that it stands elsewhere now, or steps had become the shortest.
        """
        relaxed, going_on = self.relaxed, not self.pace.is_over
        if len(proof.wanted):
            numbers = np.union1d(relaxed.numbers[self._stays(proof)], proof.wanted)
            relaxed = Relaxed(self.frame, numbers, self.most_without)
        if proof.bound < self.value - LACKING * abs(self.value):
            going_on = False
            self.pace.begin_again()
        elif self.pace.is_over:
            self.pace.begin_longer()
        self._change(relaxed, proof.prices, going_on=going_on)
        return len(proof.wanted)

    def _stays(self, proof: Proof) -> Array:
        if self.passed or self.pace.is_settling or len(self.relaxed.numbers) <= FEW:
            return np.ones(len(self.relaxed.numbers), dtype=bool)
        stays: Array = self.average >= FORGOTTEN
        return stays | (proof.slack <= self._tenable(proof.slack))

    def _change(self, relaxed: Relaxed, proven: Array, *, going_on: bool) -> None:
        """The pairs that have a price; what is known of those that had one."""
        prices, rents = self.prices, self.rents
        average, of_prices = self.average, self.of_prices
        theirs = np.isin(self.relaxed.numbers, relaxed.numbers)
        mine = np.searchsorted(relaxed.numbers, self.relaxed.numbers[theirs])
        self.rents = self.kept[1]
        self._take(relaxed, proven[relaxed.numbers])
        self.average[mine] = average[theirs]
        self.of_prices.learn(of_prices, mine, theirs)
        if going_on:
            self.prices, self.rents = self.prices.copy(), rents
            self.prices[mine] = prices[theirs]
        else:
            self.of_prices.halt()
            self.of_rents.halt()

    def is_rising(self) -> bool:
        """False when beginning again brought nothing several times."""
        rose = self.bound > self.rose_to + MOVED * abs(self.bound)
        self.rose_to, self.fruitless = self.bound, 0 if rose else self.fruitless + 1
        return self.fruitless < FRUITLESS

    def _tenable(self, slack: Array) -> Array:
        """For each pair the largest slack with which its variety keeps it."""
        relaxed = self.relaxed
        laid = relaxed.laid(slack)
        width = min(KEPT, laid.shape[1]) - 1
        tenable: Array = np.partition(laid, width, axis=1)[:, width][relaxed.variety]
        return tenable

    def needed(self, cost: float) -> Array:
        """The numbers of all pairs that a plan cheaper than this one may need."""
        if not np.isfinite(self.bound):
            return np.flatnonzero(self.frame.free)
        return np.flatnonzero(
            self.frame.free.reshape(-1) & (self.best.dearer <= cost - self.bound)
        )

    def likely(self, least: float = 0.05) -> Array:
        """The numbers of the pairs that were often chosen of late."""
        return self.relaxed.numbers[self.average >= least]
