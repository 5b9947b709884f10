"""A season's plan: who grows what, how good it is, and how much better any plan could be."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from library.science.assignment.neighbourhoods import Corners
from library.science.assignment.pairs import Obstacle, Pairs, possible_pairs
from library.science.assignment.program import Program, pruned
from library.science.assignment.season import Pair, Season
from library.science.assignment.sheet import Clash, Sheet, everyone_first, rarest_first

SOURCE = (
    "Mixed-integer program solved by HiGHS (Huangfu & Hall 2018, Mathematical Programming "
    "Computation 10:119-142)"
)
KEEP = 40
PATIENCE = 60  # corners in a row that gave nothing
CORNER_SECONDS = 5.0
MOST_PAIRS = 6_000  # up to here every possible pair is looked at
NEAR_ENOUGH = 5e-4  # a gap at which nobody need look on


class PinsClash(ValueError):
    """Pairs that were pinned and cannot be, each with what stands in the way."""

    def __init__(self, clashes: dict[Pair, Obstacle | Clash]) -> None:
        self.clashes = clashes
        told = "; ".join(f"{v} in {g}: {why.value}" for (v, g), why in clashes.items())
        super().__init__(f"Not all that is pinned can be: {told}.")


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


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The best plan that was found.

    ``covered`` of ``could_be_covered`` varieties have a grower; no plan over the pairs looked
    at covers more than ``most_covered`` (None where the work was stopped before). ``loss`` is
    the expected loss, ``cost`` with unfairness; ``bound`` is what no plan that covers as many
    can undercut, None where it is not known. ``all_pairs`` says whether every possible pair
    was looked at. ``method`` is the way of the best plan: a hand method or the solver.
    """

    season: Season
    pairs: Pairs
    chosen: frozenset[Pair]
    covered: int
    could_be_covered: int
    most_covered: int | None
    loss: float
    cost: float
    bound: float | None
    all_pairs: bool
    method: str
    stopped: bool
    source: str = SOURCE

    @property
    def gap(self) -> float | None:
        """How far the plan may be from the best, as a share of its cost; None if not known."""
        if self.bound is None or self.most_covered != self.covered:
            return None
        return max(0.0, self.cost - self.bound) / self.cost if self.cost else 0.0

    def growers_of(self, variety: str) -> list[str]:
        """The gardens that grow it."""
        return sorted(garden for v, garden in self.chosen if v == variety)


def assign(
    season: Season,
    *,
    seconds: float = 60.0,
    keep: int = KEEP,
    report: Callable[[Stage], None] = lambda stage: None,
    stopped: Callable[[], bool] = lambda: False,
) -> Plan:
    """Return the best plan found within about so many seconds.

    First as many varieties as possible get a grower, then the expected loss is made as small as
    it can be; load is shared where that costs nothing. Never worse than the better of the two
    hand methods. ``report`` is told after each stage; ``stopped`` is asked between solves, of
    which the last, that proves how good the plan is, takes all the time that is left. Raises
    PinsClash (a ValueError) if what is pinned cannot be.
    """
    pairs = possible_pairs(season)
    _check_pins(pairs)
    work = _Work(pairs, seconds, keep, report, stopped)
    work.by_hand()
    work.solve()
    return work.plan()


def _check_pins(pairs: Pairs) -> None:
    clashes: dict[Pair, Obstacle | Clash] = {}
    sheet = Sheet(pairs)
    for pair in sorted(pairs.season.pinned):
        clash = pairs.obstacles.get(pair) or sheet.clash(*pair)
        if clash is None:
            sheet.add(*pair)
        else:
            clashes[pair] = clash
    if clashes:
        raise PinsClash(clashes)


class _Work:
    """The best plan so far, and what was proved on the way."""

    def __init__(
        self,
        pairs: Pairs,
        seconds: float,
        keep: int,
        report: Callable[[Stage], None],
        stopped: Callable[[], bool],
    ) -> None:
        self.pairs, self.season = pairs, pairs.season
        self.ends, self.slice = time.monotonic() + seconds, seconds / 4
        self.keep, self.report, self.stopped = keep, report, stopped
        self.chosen: frozenset[Pair] = frozenset()
        self.method = ""
        self.most_covered: int | None = None
        self.bound: float | None = None
        self.all_pairs = len(pairs.possible) <= MOST_PAIRS
        self.was_stopped = False

    def by_hand(self) -> None:
        plans = {
            "rarest_first": rarest_first(self.pairs, self.season.pinned).chosen,
            "everyone_first": everyone_first(self.pairs, self.season.pinned).chosen,
        }
        self.always = frozenset[Pair]().union(*plans.values())
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
        candidates = self.pairs.possible
        if not self.all_pairs:
            candidates = frozenset(pruned(self.pairs, self.keep, self.always))
        program = Program(self.pairs, candidates)
        self._cover(program)
        self._improve(candidates)
        while not self._over():
            answer = program.least_cost(self.covered, self.ends - time.monotonic())
            self.bound = max(self.bound or 0.0, answer.bound)
            self._consider(answer.chosen)
            self._tell("least_cost")
            near = self.season.cost_of(self.chosen) - self.bound <= NEAR_ENOUGH * self.bound
            if near or answer.chosen is None or not program.sharpen(answer.chosen):
                return

    def _cover(self, program: Program) -> None:
        """Whether more varieties can have a grower than the hand found; often it found all."""
        could = len(program.of_variety)
        if self.covered == could:
            self.most_covered = could
            return
        answer = program.most_covered(self._seconds())
        self.most_covered = min(int(answer.bound), could)
        self._consider(answer.chosen)
        self._tell("most_covered")

    def _improve(self, candidates: frozenset[Pair]) -> None:
        """Corner after corner for half of what time is left."""
        corners = Corners(self.pairs, candidates)
        ends = (time.monotonic() + self.ends) / 2
        idle = 0
        while not self._over() and time.monotonic() < ends and idle < PATIENCE:
            started, before = time.monotonic(), self._key(self.chosen)
            free = corners.free(self.chosen)
            corner = Program(self.pairs, free | self.chosen, kept=self.chosen - free)
            self._consider(corner.best(CORNER_SECONDS).chosen)
            corners.took(time.monotonic() - started)
            if len(free) == len(candidates):
                return
            idle = idle + 1 if self._key(self.chosen) == before else 0
        self._tell("corners")

    def _consider(self, chosen: frozenset[Pair] | None) -> None:
        if chosen is not None and self._key(chosen) < self._key(self.chosen):
            Sheet(self.pairs, chosen)  # what the solver's tolerances let through would raise
            self.chosen, self.method = chosen, "solver"

    def _key(self, chosen: frozenset[Pair]) -> tuple[int, float]:
        return (-len({v for v, _g in chosen}), self.season.cost_of(chosen))

    @property
    def covered(self) -> int:
        return len({variety for variety, _garden in self.chosen})

    def _seconds(self) -> float:
        return min(self.slice, self.ends - time.monotonic())

    def _over(self) -> bool:
        self.was_stopped = self.was_stopped or self.stopped()
        return self.was_stopped or time.monotonic() >= self.ends

    def _tell(self, name: str) -> None:
        cost = self.season.cost_of(self.chosen)
        self.report(
            Stage(
                name=name, chosen=self.chosen, covered=self.covered, cost=cost, bound=self.bound
            )
        )

    def plan(self) -> Plan:
        return Plan(
            season=self.season,
            pairs=self.pairs,
            chosen=self.chosen,
            covered=self.covered,
            could_be_covered=len(self.pairs.by_variety),
            most_covered=self.most_covered,
            loss=self.season.loss_of(self.chosen),
            cost=self.season.cost_of(self.chosen),
            bound=self.bound,
            all_pairs=self.all_pairs,
            method=self.method,
            stopped=self.was_stopped,
        )
