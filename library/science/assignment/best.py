"""The best plan so far of all that were looked at."""

from __future__ import annotations

from library.science.assignment.pairs import Pairs
from library.science.assignment.season import Pair
from library.science.assignment.sheet import Sheet


class Best:
    """More varieties with a grower are better; of as many, what costs less."""

    def __init__(self, pairs: Pairs) -> None:
        self.pairs, self.season = pairs, pairs.season
        self.chosen: frozenset[Pair] = frozenset()
        self.method = ""

    def by_hand(self, method: str, chosen: frozenset[Pair]) -> None:
        if not self.method or self.key(chosen) < self.key(self.chosen):
            self.chosen, self.method = chosen, method

    def consider(self, chosen: frozenset[Pair] | None) -> bool:
        """Whether a plan was better than the best, and is it now."""
        if chosen is None or self.key(chosen) >= self.key(self.chosen):
            return False
        sheet = Sheet(self.pairs, self.season.pinned)
        for pair in sorted(chosen - self.season.pinned):
            # the solver forgives a little more than the rules do: such a pair stays out
            if sheet.clash(*pair) is None:
                sheet.add(*pair)
        if self.key(sheet.chosen) >= self.key(self.chosen):
            return False
        self.chosen, self.method = sheet.chosen, "solver"
        return True

    def key(self, chosen: frozenset[Pair]) -> tuple[int, float]:
        return (-len({v for v, _g in chosen}), self.season.cost_of(chosen))

    @property
    def covered(self) -> int:
        return len({variety for variety, _garden in self.chosen})

    @property
    def cost(self) -> float:
        return self.season.cost_of(self.chosen)
