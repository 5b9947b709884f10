"""The work on a season's plan: a better plan and a better bound, side by side."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from library.science.assignment.beside import Beside, Found, Guide
from library.science.assignment.best import Best
from library.science.assignment.pairs import Pairs
from library.science.assignment.program import Program
from library.science.assignment.season import Pair
from library.science.assignment.sheet import everyone_first, rarest_first

if TYPE_CHECKING:
    from library.science.assignment.ascent import Ascent
    from library.science.assignment.frame import Frame

SPELL = 1.0  # seconds between two reports
GUIDED = 4.0  # seconds that corners go by what the prices said
MARKET = 2.5  # seconds for the prices from which those of pairs begin
FIRST_SPELL = 0.5  # at first many pairs are found that need a price
SOLVE = 8.0  # seconds that one call of the solver may take
FEW_PAIRS = 600  # so many the solver takes whole, at once
SOLVABLE = 4_000  # so many it may finish
LAST_PROOF = 1.0  # seconds before the end when the bound should have settled
PATIENCE = 40  # corners in a row that gave nothing
NEAR = 0.9  # of what it aims at, where a bound no longer lacks most pairs
NEAR_ENOUGH = 5e-4  # a gap at which nobody need look on
ROUNDING = 1e-6  # the solver's own tolerance, as a share of its bound


@dataclass(frozen=True, kw_only=True)
class Stage:
    """How far the work is: the best so far, and what was proved to be out of reach.

    Whoever runs it in a process of its own can keep the last one and end the process at once.
    """

    name: str
    chosen: frozenset[Pair]
    covered: int
    cost: float
    bound: float | None = None


class Work:
    """The best plan so far, and what was proved on the way."""

    def __init__(
        self,
        pairs: Pairs,
        seconds: float,
        width: int,
        report: Callable[[Stage], None],
        stopped: Callable[[], bool],
    ) -> None:
        self.pairs, self.season = pairs, pairs.season
        self.seconds, self.ends = seconds, time.monotonic() + seconds
        self.width, self.report, self.stopped = width, report, stopped
        self.best = Best(pairs)
        self.most_covered: int | None = None
        self.bound: float | None = None
        self.was_stopped = False
        self.told: Stage | None = None
        self.idle, self.turn, self.spell = 0, 0, FIRST_SPELL

    def _by_hand(self) -> None:
        plans = {
            "rarest_first": rarest_first(self.pairs, self.season.pinned).chosen,
            "everyone_first": everyone_first(self.pairs, self.season.pinned).chosen,
        }
        for method, chosen in plans.items():
            self.best.by_hand(method, chosen)
        self._tell("by_hand")

    def run(self) -> None:
        """By hand, then better: few pairs all at once, many in spells."""
        with Beside(self.pairs) as beside:
            if len(self.pairs.possible) > FEW_PAIRS:
                beside.begin()  # it gets ready meanwhile
            self._by_hand()
            if not self.pairs.possible:
                self.most_covered, self.bound = 0, self.season.cost_of(())
                return
            if len(self.pairs.possible) <= FEW_PAIRS and not self._over():
                self._whole(self.pairs.possible)
            if not self._over() and not self._done():
                self._in_spells(beside)

    def _whole(self, candidates: frozenset[Pair]) -> None:
        """All by the solver at once: what it proves holds if nothing else is needed."""
        program = Program(self.pairs, candidates)
        if self.best.covered == self.could_be_covered:
            self.most_covered = self.could_be_covered
        elif self.most_covered is None:
            answer = program.most_covered(self._seconds(SOLVE))
            self.best.consider(answer.chosen)
            if answer.proven:
                self.most_covered = int(answer.bound)
            self._tell("most_covered")
        while not self._over():
            answer = program.least_cost(self.best.covered, self._seconds(SOLVE))
            self._prove(answer.bound - ROUNDING * max(1.0, abs(answer.bound)), candidates)
            self.best.consider(answer.chosen)
            self._tell("least_cost")
            if self._done() or not answer.proven or answer.chosen is None:
                return
            if not program.sharpen(answer.chosen):
                return

    def _prove(self, bound: float, candidates: frozenset[Pair]) -> None:
        """A bound over candidates holds for all pairs as far as no plan with others undercuts
        the one at hand.
        """
        if len(candidates) < len(self.pairs.possible):
            bound = min(bound, self.best.cost)
        self.bound = max(-math.inf if self.bound is None else self.bound, bound)

    def _in_spells(self, beside: Beside) -> None:
        """Bound and plan by spells: what the bound's prices choose tells where to look."""
        from library.science.assignment.frame import counted, frame_of

        beside.begin()
        beside.cover(asked=self.best.covered < self.could_be_covered)
        frame = frame_of(self.pairs)
        self._none_covers_more_than(self.could_be_covered)
        ascent = self._ascent(frame, self.best.cost, self.seconds / 20)
        self._hear_of_covering(beside)
        if self.best.covered < self._most:
            self._cover(counted(frame), beside)
        self.turn, self.spell = 0, FIRST_SPELL
        self._side_by_side(frame, ascent, beside)

    def _hear_of_covering(self, beside: Beside) -> None:
        """Until it is told how many can have a grower, if that is not known."""
        while self.best.covered < self._most and not self._over():
            found = self._hear(beside, SPELL)
            self._tell("most_covered")
            if any(one.most is not None for one in found):
                return

    def _side_by_side(self, frame: Frame, ascent: Ascent, beside: Beside) -> None:
        """Until nothing moves any more: what the prices choose says where to look for a better
        plan, and what a plan costs says how far the bound may rise.
        """
        moving, aim, guide_at = True, self.best.cost, 0.0
        while not self._over() and not self._done():
            # a cheaper plan says better how far the bound may rise
            rising = moving = moving or self.best.cost < aim
            if rising:
                aim = self.best.cost
                ascent.allow(self.could_be_covered - self.best.covered)
                moving = self._climb(ascent, aim)
            if time.monotonic() >= guide_at or not moving:
                beside.guide(self._guide(frame, ascent))
                guide_at = time.monotonic() + GUIDED
            self._hear(beside, 0 if rising else self._seconds(SPELL))
            self._prove(ascent.bound, self.pairs.possible)
            self._tell("bound" if rising else "corners")
            if not moving and self.idle >= PATIENCE:
                self._finish(frame, ascent)
                return

    def _cover(self, frame: Frame, beside: Beside) -> None:
        """Whether more varieties can have a grower than the hand found; often it found all."""
        ends = time.monotonic() + self.seconds / 4
        ascent = self._ascent(frame, self._missing(), self.seconds / 20)
        moving = True
        while moving and time.monotonic() < ends and not self._over():
            moving = self._climb(ascent, self._missing())
            fewest = max(0, math.ceil(ascent.bound - ROUNDING))
            self._none_covers_more_than(self.could_be_covered - fewest)
            self._tell("most_covered")
            if self.most_covered == self.best.covered:
                return
        beside.guide(self._guide(frame, ascent))
        self._hear(beside, self._seconds(SPELL))
        self._tell("corners")

    @property
    def _most(self) -> int:
        """How many can have a grower, as far as is known."""
        return self.could_be_covered if self.most_covered is None else self.most_covered

    def _none_covers_more_than(self, most: int) -> None:
        self.most_covered = min(self._most, most)

    def _ascent(self, frame: Frame, above: float, seconds: float) -> Ascent:
        from library.science.assignment.ascent import Ascent
        from library.science.assignment.market import Market

        self.spell = FIRST_SPELL
        market = Market(frame, self._missing(), self.width)
        market.run(above, time.monotonic() + self._seconds(min(MARKET, seconds)), self._over)
        ascent = Ascent.after(market)
        ascent.widen(ascent.prove())
        return ascent

    def _climb(self, ascent: Ascent, above: float) -> bool:
        """Raise a bound for a spell; False when it hardly moves any more."""
        ends = time.monotonic() + self._seconds(self.spell)
        spent = ascent.climb(above, ends, self._over, self.ends - LAST_PROOF)
        self.spell = min(SPELL, self.spell * 1.2)
        self.turn += 1
        pause = 2 if ascent.pace.is_falling else 4
        if ascent.bound > NEAR * above and self.turn % pause and not spent and not self._over():
            return True  # a proof costs as much as many steps, and long ones prove nothing
        return ascent.widen(ascent.prove()) > 0 or not spent or ascent.is_rising()

    def _guide(self, frame: Frame, ascent: Ascent) -> Guide:
        from library.science.assignment.rounding import regret, rounded

        lost = regret(ascent, self.best.chosen)
        return Guide(
            chosen=self.best.chosen,
            rounded=rounded(ascent),
            likely=frozenset(frame.pair(i) for i in ascent.likely()),
            of_variety=lost.of_variety,
            of_garden=lost.of_garden,
            seconds=self._seconds(math.inf),
        )

    def _hear(self, beside: Beside, seconds: float) -> list[Found]:
        """What was done beside, for which it waits so long, is taken to heart."""
        found = beside.found(seconds)
        for one in found:
            self.idle = 0 if self.best.consider(one.chosen) else self.idle + 1
            if one.most is not None:
                self._none_covers_more_than(one.most)
        return found

    def _finish(self, frame: Frame, ascent: Ascent) -> None:
        """What the bound does not rule out, by the solver, if that is little enough."""
        needed = ascent.needed(self.best.cost)
        if len(needed) <= SOLVABLE and not self._over() and not self._done():
            self._whole(frozenset(frame.pair(i) for i in needed) | self.best.chosen)

    @property
    def could_be_covered(self) -> int:
        return len(self.pairs.by_variety)

    def _missing(self) -> int:
        return self.could_be_covered - self.best.covered

    def _seconds(self, most: float) -> float:
        return max(0.0, min(most, self.ends - time.monotonic()))

    def _done(self) -> bool:
        """Nobody need look on: the plan is as good as the bound, and covers what can be."""
        if self.bound is None or self.most_covered != self.best.covered:
            return False
        return self.best.cost - self.bound <= NEAR_ENOUGH * abs(self.bound)

    def _over(self) -> bool:
        self.was_stopped = self.was_stopped or self.stopped()
        return self.was_stopped or time.monotonic() >= self.ends

    def _tell(self, name: str) -> None:
        """What is new; each time costs whoever listens a write."""
        stage = Stage(
            name=name,
            chosen=self.best.chosen,
            covered=self.best.covered,
            cost=self.best.cost,
            bound=self.bound,
        )
        if stage != self.told:
            self.told = stage
            self.report(stage)
