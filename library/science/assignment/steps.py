"""Which way the bound's prices go, and how far.

Steps along the subgradient with the step length of Polyak (1969, USSR Computational Mathematics
and Mathematical Physics 9:14-29, from memory), each bent by those before. What swings to and
fro goes less far with each step, and the price of a variety with little at stake less far than
that of others.

Long steps go far and see little; short ones see where they are. So steps are long for a while,
then ever shorter, and then it begins again from the best, for longer.
"""

from __future__ import annotations

import numpy as np

from library.science.assignment.frame import Array
from library.science.assignment.loops import bend

MEMORY = 0.98  # how much of a step's direction is the last one's
LONG = 600  # steps of full length at first
LONGER = 2  # times as many whenever it begins again
FALL = 400  # steps from full length to the shortest
SHORTEST = 0.05
SETTLING = 0.5  # length from which on nothing is taken away
LEAST_AT_STAKE = 1e-3  # of the most: less is not told apart


class Pace:
    """The length of steps: 1, then falling to the shortest."""

    def __init__(self) -> None:
        self.length, self.long, self.turn = 1.0, LONG, LONG

    def step(self) -> None:
        if self.long > 0:
            self.long -= 1
        else:
            self.length *= SHORTEST ** (1 / FALL)

    def leave_time(self, steps: float) -> None:
        """So many steps are left, of which the last should be the shortest."""
        self.long = int(min(self.long, max(steps - FALL, 0)))
        if self.long == 0:
            part = min(max(steps, 0) / FALL, 1)
            self.length = min(self.length, SHORTEST ** (1 - part))

    def begin_again(self) -> None:
        self.length, self.long = 1.0, self.turn

    def begin_longer(self) -> None:
        self.turn *= LONGER
        self.begin_again()

    @property
    def is_falling(self) -> bool:
        return self.long == 0

    @property
    def is_settling(self) -> bool:
        return self.length < SETTLING

    @property
    def is_over(self) -> bool:
        return self.length < SHORTEST


class Direction:
    """Of each of some prices: which way it went of late, and how it swings. ``scale`` is how
    far one may go compared with another.
    """

    def __init__(self, scale: Array) -> None:
        self.scale = scale
        self.last, self.swing = np.zeros(len(scale)), np.zeros(len(scale))
        self.ease = np.ones(len(scale))

    @classmethod
    def by_stake(cls, stakes: Array) -> Direction:
        """For prices of which so much is at stake."""
        known = np.sqrt(np.maximum(stakes, LEAST_AT_STAKE * stakes.max(initial=1e-9)))
        return cls(known / known.mean() if len(known) else known)

    def bend(self, by: Array) -> float:
        """Turn towards the subgradient; how long that makes the direction."""
        return float(bend(by, self.scale, self.last, self.swing, self.ease, MEMORY))

    def step(self, by: float) -> Array:
        moved: Array = by * self.ease * self.last
        return moved

    def learn(self, other: Direction, mine: Array, theirs: Array) -> None:
        """Take over what was known of the same prices."""
        self.swing[mine], self.last[mine] = other.swing[theirs], other.last[theirs]

    def halt(self) -> None:
        """Go from where it stands; what swings is known all the same."""
        self.last[:] = 0
