"""A season's plan: who grows what, how good it is, and how much better any plan could be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from library.science.assignment.pairs import Obstacle, Pairs, possible_pairs
from library.science.assignment.season import Pair, Season
from library.science.assignment.sheet import Clash, Sheet
from library.science.assignment.work import Stage, Work

SOURCE = (
    "Mixed-integer programs solved by HiGHS (Huangfu & Hall 2018, Mathematical Programming "
    "Computation 10:119-142); bound by Lagrangian decomposition (Guignard & Kim 1987, "
    "Mathematical Programming 39:215-228)"
)
KEEP = 24


class PinsClash(ValueError):
    """Pairs that were pinned and cannot be, each with what stands in the way."""

    def __init__(self, clashes: dict[Pair, Obstacle | Clash]) -> None:
        self.clashes = clashes
        told = "; ".join(f"{v} in {g}: {why.value}" for (v, g), why in clashes.items())
        super().__init__(f"Not all that is pinned can be: {told}.")


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The best plan that was found.

    ``covered`` of ``could_be_covered`` varieties have a grower; no plan covers more than
    ``most_covered`` (None where the work was stopped before). ``loss`` is the expected loss,
    ``cost`` with unfairness; ``bound`` is what no plan that covers as many can undercut, None
    where it is not known. ``all_pairs`` says whether the bound holds for every possible pair:
    it does. ``method`` is the way of the best plan: a hand method or the solver.
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
    work = Work(pairs, seconds, keep, report, stopped)
    work.run()
    return Plan(
        season=season,
        pairs=pairs,
        chosen=work.best.chosen,
        covered=work.best.covered,
        could_be_covered=work.could_be_covered,
        most_covered=work.most_covered,
        loss=season.loss_of(work.best.chosen),
        cost=work.best.cost,
        bound=work.bound,
        all_pairs=True,
        method=work.best.method,
        stopped=work.was_stopped,
    )


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
