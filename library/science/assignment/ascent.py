"""Raising the bound: prices go up where more want a pair than give it, and down elsewhere.

Steps along the subgradient with the step length of Polyak (1969, USSR Computational Mathematics
and Mathematical Physics 9:14-29, from memory), each bent by the one before.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from library.science.assignment.frame import Array, Frame
from library.science.assignment.market import Market
from library.science.assignment.proof import Proof, prove
from library.science.assignment.relaxed import Relaxed

MEMORY = 0.9  # how much of a step's direction is the last one's
PATIENCE = 40  # steps without a better bound after which they get shorter
SHORTER = 0.7
SHORTEST = 0.05
REACH = 0.15  # how far above the best value a step aims at most
FORGOTTEN = 1e-4  # chosen on average less often than this
FEW = 12_000  # pairs of which none is taken away
KEPT = 40  # pairs of each variety that stay anyway
MOVED = 1e-5  # of the bound: less is no movement
FRUITLESS = 8  # times of beginning again that brought no movement
BLEND = 0.03  # of each step in what was chosen on average


class Ascent:
    """Prices of some pairs and rents of groups, and what they prove."""

    def __init__(self, frame: Frame, numbers: Array, most_without: int) -> None:
        self.frame, self.most_without = frame, most_without
        self.rents = np.zeros(sum(groups.shape[1] for groups in frame.groups))
        self.bound, self.rose_to, self.fruitless = -np.inf, -np.inf, 0
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
        self.value, self.length, self.idle = -np.inf, 1.0, 0
        self.kept, self.passed = (self.prices, self.rents), False
        self.average = np.zeros(len(relaxed.numbers))
        self.last = (np.zeros_like(prices), np.zeros_like(self.rents))

    def climb(self, above: float, ends: float, stopped: Callable[[], bool]) -> bool:
        """Step by step towards ``above``, the cost of a plan. True when no longer worth it."""
        while time.monotonic() < ends and not stopped():
            self._step(above)
            # More than a plan costs cannot be so: prices are lacking. Then none is taken away.
            self.passed = self.value >= above
            if self.length < SHORTEST or self.passed:
                return True
        return False

    def _step(self, above: float) -> None:
        relaxed = self.relaxed
        wishes = relaxed.wishes(self.prices, self.rents)
        earned, given = relaxed.bundles.best(self.prices)
        value = float(wishes.paid.sum() - earned.sum())
        value += relaxed.fixed(self.rents, wishes.penalty)
        self._judge(value)
        self.average += BLEND * ((wishes.chosen + given) / 2 - self.average)
        crowded = relaxed.cheapest.crowding(wishes.chosen)
        crowded[(self.rents <= 0) & (crowded < 0)] = 0
        agree = wishes.chosen - given + MEMORY * self.last[0]
        rent = crowded + MEMORY * self.last[1]
        # not ``agree @ agree``: BLAS would ask for the processor on which corners are solved
        size = float(np.square(agree).sum() + np.square(rent).sum())
        target = min(above, max(value, self.value) + REACH * abs(above))
        step = self.length * max(target - value, 1e-6 * abs(above)) / max(size, 1e-9)
        self.prices = self.prices + step * agree
        self.rents = np.maximum(self.rents + step * rent, 0)
        self.last = (agree, rent)

    def _judge(self, value: float) -> None:
        if value > self.value + 1e-7 * abs(value):
            self.value, self.idle = value, 0
            self.kept = (self.prices, self.rents)
            return
        self.idle += 1
        if self.idle > PATIENCE:
            self.length, self.idle = self.length * SHORTER, 0

    def prove(self) -> Proof:
        """What the best prices so far prove of all possible pairs."""
        proof = prove(self.relaxed, *self.kept)
        if proof.bound > self.bound:
            self.bound, self.best = proof.bound, proof
        return proof

    def widen(self, proof: Proof) -> int:
        """Give a price to the pairs that the proof found worth one, and take it from those that
        nobody chose of late; how many were added. From the best prices on, with long steps.
        """
        before, average, last = self.relaxed.numbers, self.average, self.last
        numbers, relaxed = before, self.relaxed
        if len(proof.wanted):
            stays = (average >= FORGOTTEN) | (proof.slack <= self._tenable(proof.slack))
            stays |= self.passed or len(before) <= FEW
            numbers = np.union1d(before[stays], proof.wanted)
            relaxed = Relaxed(self.frame, numbers, self.most_without)
        _prices, self.rents = self.kept
        self._take(relaxed, proof.prices[numbers])
        stay = np.isin(before, numbers)
        now = np.searchsorted(numbers, before[stay])
        self.average[now], self.last[0][now] = average[stay], last[0][stay]
        self.last = (self.last[0], last[1])
        return len(proof.wanted)

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
