"""The work on a season's plan: a better plan and a better bound, side by side."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from library.science.assignment.neighbourhoods import FIRST, Corners
from library.science.assignment.pairs import Pairs
from library.science.assignment.program import Program
from library.science.assignment.season import Pair
from library.science.assignment.sheet import Sheet, everyone_first, rarest_first

if TYPE_CHECKING:
    from library.science.assignment.ascent import Ascent
    from library.science.assignment.frame import Frame

SPELL = 2.5  # seconds between two reports
FIRST_SPELL = 0.4  # at first many pairs are found that need a price
SOLVE = 8.0  # seconds that one call of the solver may take
CORNER = 4.0  # seconds that a corner may take
FEW_PAIRS = 600  # so many the solver takes whole, at once
SOLVABLE = 4_000  # so many it may finish
HARDEST = (
    2_500  # so many of the varieties with the fewest gardens, to prove who must go without
)
PATIENCE = 40  # corners in a row that gave nothing
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
        self.chosen: frozenset[Pair] = frozenset()
        self.method = ""
        self.most_covered: int | None = None
        self.bound: float | None = None
        self.was_stopped = False
        self.idle, self.turn, self.size, self.spell = 0, 1, FIRST, FIRST_SPELL

    def by_hand(self) -> None:
        plans = {
            "rarest_first": rarest_first(self.pairs, self.season.pinned).chosen,
            "everyone_first": everyone_first(self.pairs, self.season.pinned).chosen,
        }
        for method, chosen in plans.items():
            if not self.method or self._key(chosen) < self._key(self.chosen):
                self.chosen, self.method = chosen, method
        self._tell("by_hand")

    def solve(self) -> None:
        if not self.pairs.possible:
            self.most_covered, self.bound = 0, self.season.cost_of(())
            return
        if self._over():
            return
        if len(self.pairs.possible) <= FEW_PAIRS:
            self._whole(self.pairs.possible)
        if not self._over() and not self._done():
            self._in_spells()

    def _whole(self, candidates: frozenset[Pair]) -> None:
        """All by the solver at once: what it proves holds if nothing else is needed."""
        program = Program(self.pairs, candidates)
        if self.covered == self.could_be_covered:
            self.most_covered = self.could_be_covered
        elif self.most_covered is None:
            answer = program.most_covered(self._seconds(SOLVE))
            self._consider(answer.chosen)
            if answer.proven:
                self.most_covered = int(answer.bound)
            self._tell("most_covered")
        while not self._over():
            answer = program.least_cost(self.covered, self._seconds(SOLVE))
            self._prove(answer.bound - ROUNDING * max(1.0, abs(answer.bound)), candidates)
            self._consider(answer.chosen)
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
            bound = min(bound, self.season.cost_of(self.chosen))
        self.bound = max(-math.inf if self.bound is None else self.bound, bound)

    def _in_spells(self) -> None:
        """Bound and plan by spells: what the bound's prices choose tells where to look."""
        from library.science.assignment.frame import counted, frame_of

        frame = frame_of(self.pairs)
        self._none_covers_more_than(self.could_be_covered)
        if self.covered < self._most:
            self._cover_the_hardest()
        if self.covered < self._most:
            self._cover(counted(frame))
        ascent = self._ascent(frame, self._cost(), self.seconds / 12)
        with ThreadPoolExecutor(1) as beside:
            self._side_by_side(frame, ascent, beside)

    def _side_by_side(self, frame: Frame, ascent: Ascent, beside: Executor) -> None:
        """The solver lets other threads run, so corners are solved while the bound rises.

        Whatever both need, the plan at hand and what the prices choose, is exchanged between
        two spells, when neither runs.
        """
        moving, corners = True, self._corners_of(frame, ascent)
        while not self._over() and not self._done():
            cost, improving = self._cost(), beside.submit(self._improve, corners)
            if rising := moving:
                ascent.allow(self.could_be_covered - self.covered)
                moving = self._climb(ascent, cost)
            improving.result()
            self._prove(ascent.bound, self.pairs.possible)
            self._tell("bound" if rising else "corners")
            if not moving and self.idle >= PATIENCE:
                self._finish(frame, ascent)
                return
            if not self._done():
                corners = self._corners_of(frame, ascent)

    def _cover_the_hardest(self) -> None:
        """How many can have a grower, if those that most gardens could take do not count.

        Whoever has no grower is nearly always among the varieties with the fewest gardens, and
        these stand in one another's way. Without the others a plan only covers more, so what
        the solver proves of these holds for all.
        """
        hard = self._hardest()
        if not hard:
            return
        answer = Program(self.pairs, hard).most_covered(self._seconds(SOLVE))
        if math.isfinite(answer.bound):
            others = self.could_be_covered - len({variety for variety, _garden in hard})
            self._none_covers_more_than(others + math.floor(answer.bound))
        if answer.chosen is not None:
            self._consider(everyone_first(self.pairs, answer.chosen).chosen)
        self._tell("most_covered")

    def _hardest(self) -> frozenset[Pair]:
        """All pairs of the varieties with the fewest gardens, and what is pinned."""
        gardens = self.pairs.by_variety
        hard = set(self.season.pinned)
        for variety in sorted(gardens, key=lambda v: (len(gardens[v]), v)):
            if len(hard) + len(gardens[variety]) > HARDEST:
                break
            hard.update((variety, garden) for garden in gardens[variety])
        return frozenset(hard)

    def _cover(self, frame: Frame) -> None:
        """Whether more varieties can have a grower than the hand found; often it found all."""
        ends = time.monotonic() + self.seconds / 4
        ascent = self._ascent(frame, self._missing(), self.seconds / 20)
        moving = True
        while moving and time.monotonic() < ends and not self._over():
            moving = self._climb(ascent, self._missing())
            fewest = max(0, math.ceil(ascent.bound - ROUNDING))
            self._none_covers_more_than(self.could_be_covered - fewest)
            self._tell("most_covered")
            if self.most_covered == self.covered:
                return
        self._improve(self._corners_of(frame, ascent))
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
        market.run(above, time.monotonic() + self._seconds(min(SPELL, seconds)), self._over)
        ascent = Ascent.after(market)
        ascent.widen(ascent.prove())
        return ascent

    def _climb(self, ascent: Ascent, above: float) -> bool:
        """Raise a bound for a spell; False when it hardly moves any more."""
        spent = ascent.climb(above, time.monotonic() + self._seconds(self.spell), self._over)
        self.spell = min(SPELL, self.spell * 1.2)
        return ascent.widen(ascent.prove()) > 0 or not spent

    def _corners_of(self, frame: Frame, ascent: Ascent) -> Corners:
        from library.science.assignment.rounding import regret, rounded

        self._consider(rounded(ascent))
        likely = frozenset(frame.pair(i) for i in ascent.likely())
        lost = regret(ascent, self.chosen)
        return Corners(
            self.pairs,
            likely | self.chosen,
            lost.of_variety,
            lost.of_garden,
            self.size,
            self.turn,
        )

    def _improve(self, corners: Corners) -> None:
        """Corner after corner for a spell."""
        ends = time.monotonic() + self._seconds(self.spell)
        while not self._over() and time.monotonic() < ends:
            started, before = time.monotonic(), self._key(self.chosen)
            free = corners.free(self.chosen)
            corner = Program(self.pairs, free | self.chosen, kept=self.chosen - free)
            self._consider(corner.best(self._seconds(CORNER)).chosen)
            corners.took(time.monotonic() - started)
            self.idle = self.idle + 1 if self._key(self.chosen) == before else 0
        self.size, self.turn = corners.size, self.turn + 1

    def _finish(self, frame: Frame, ascent: Ascent) -> None:
        """What the bound does not rule out, by the solver, if that is little enough."""
        needed = ascent.needed(self._cost())
        if len(needed) <= SOLVABLE and not self._over() and not self._done():
            self._whole(frozenset(frame.pair(i) for i in needed) | self.chosen)

    def _consider(self, chosen: frozenset[Pair] | None) -> None:
        if chosen is None or self._key(chosen) >= self._key(self.chosen):
            return
        sheet = Sheet(self.pairs, self.season.pinned)
        for pair in sorted(chosen - self.season.pinned):
            # the solver forgives a little more than the rules do: such a pair stays out
            if sheet.clash(*pair) is None:
                sheet.add(*pair)
        if self._key(sheet.chosen) < self._key(self.chosen):
            self.chosen, self.method = sheet.chosen, "solver"

    def _key(self, chosen: frozenset[Pair]) -> tuple[int, float]:
        return (-len({v for v, _g in chosen}), self.season.cost_of(chosen))

    @property
    def covered(self) -> int:
        return len({variety for variety, _garden in self.chosen})

    @property
    def could_be_covered(self) -> int:
        return len(self.pairs.by_variety)

    def _missing(self) -> int:
        return self.could_be_covered - self.covered

    def _cost(self) -> float:
        return self.season.cost_of(self.chosen)

    def _seconds(self, most: float) -> float:
        return max(0.0, min(most, self.ends - time.monotonic()))

    def _done(self) -> bool:
        """Nobody need look on: the plan is as good as the bound, and covers what can be."""
        if self.bound is None or self.most_covered != self.covered:
            return False
        return self._cost() - self.bound <= NEAR_ENOUGH * abs(self.bound)

    def _over(self) -> bool:
        self.was_stopped = self.was_stopped or self.stopped()
        return self.was_stopped or time.monotonic() >= self.ends

    def _tell(self, name: str) -> None:
        self.report(
            Stage(
                name=name,
                chosen=self.chosen,
                covered=self.covered,
                cost=self._cost(),
                bound=self.bound,
            )
        )
