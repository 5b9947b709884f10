"""Corner after corner in a process of its own, while the bound rises in this one.

Not in a thread: putting a corner's program together would hold up each step of the bound, and
the two would have to wait for one another. What each has found goes to the other when it suits
the other. If that process was killed, its work is done here in between.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import signal
import sys
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection

from library.science.assignment.best import Best
from library.science.assignment.covering import most_covered, of_both, repaired
from library.science.assignment.neighbourhoods import FIRST, Corners
from library.science.assignment.pairs import Pairs, possible_pairs
from library.science.assignment.program import Program
from library.science.assignment.season import Pair, Season

COVERING = 8.0  # seconds to prove who must go without a grower
CORNER = 2.5  # seconds that a corner may take
LAST = 0.3  # seconds before the end in which what it found is still heard of
PR_SET_PDEATHSIG = 1  # prctl(2)


@dataclass(frozen=True)
class Guide:
    """The best plan so far, one that prices make, and where a better one may be: the pairs that
    prices choose now and then, what is lost with each variety and each garden. Also how many
    seconds are left.
    """

    chosen: frozenset[Pair]
    rounded: frozenset[Pair]
    likely: frozenset[Pair]
    of_variety: dict[str, float]
    of_garden: dict[str, float]
    seconds: float


@dataclass(frozen=True)
class Found:
    """What came of one piece of work: a better plan than all before, if any, and whether more
    varieties than ``most`` cannot have a grower.
    """

    chosen: frozenset[Pair] | None = None
    most: int | None = None


class Improving:
    """How many can have a grower, then one corner after another of the best plan so far."""

    def __init__(self, pairs: Pairs) -> None:
        self.pairs, self.best, self.turn = pairs, Best(pairs), 0
        self.covering = False  # is it still asked how many can have a grower?
        self.corners: Corners | None = None
        self.rounded: frozenset[Pair] = frozenset()
        self.spent = False  # would another corner find nothing?
        self.ends = 0.0

    def go_on(self) -> Found:
        """The next piece of work."""
        if self.covering:
            self.covering = False
            return self._most_covered()
        return self._corner()

    def _most_covered(self) -> Found:
        most, chosen = most_covered(self.pairs, COVERING)
        return self._found(chosen, most)

    def follow(self, guide: Guide) -> Found:
        """Turn to where it says, and make a plan of what the prices say."""
        self.best.consider(guide.chosen)
        self.turn, self.spent = self.turn + 1, False
        self.ends = time.monotonic() + guide.seconds - LAST
        found = Found()
        if guide.rounded != self.rounded:
            self.rounded = guide.rounded
            found = self._found(self._of_prices(guide))
        self.corners = Corners(
            self.pairs,
            guide.likely | self.best.chosen,
            guide.of_variety,
            guide.of_garden,
            self.corners.size if self.corners else FIRST,
            self.turn,
        )
        return found

    def _of_prices(self, guide: Guide) -> frozenset[Pair] | None:
        """What prices make as a plan, with the best of the best so far."""
        best = self.best.chosen
        left = self.ends - time.monotonic()
        plan = repaired(self.pairs, guide.rounded, best, guide.likely, left)
        left = min(CORNER, self.ends - time.monotonic())
        both = of_both(self.pairs, plan, best, self.best.covered, left)
        return plan if both is None else both

    def _corner(self) -> Found:
        if self.corners is None:
            return Found()
        started, chosen = time.monotonic(), self.best.chosen
        free = self.corners.free(chosen)
        corner = Program(self.pairs, free | chosen, kept=chosen - free)
        answer = corner.best(self.best.covered, min(CORNER, self.ends - started))
        self.corners.took(time.monotonic() - started)
        found = self._found(answer.chosen)
        # all was free, and it is the best: until prices say otherwise
        self.spent = answer.proven and found.chosen is None and self.corners.was_all(free)
        return found

    def _found(self, chosen: frozenset[Pair] | None, most: int | None = None) -> Found:
        return Found(self.best.chosen if self.best.consider(chosen) else None, most)


class Beside:
    """Guides that process and hears of it; with ``with``, which ends it."""

    def __init__(self, pairs: Pairs) -> None:
        self.here = Improving(pairs)
        self.done_here: list[Found] = []
        spawn = multiprocessing.get_context("spawn")
        self.pipe, self.theirs = spawn.Pipe()
        self.process = spawn.Process(
            target=_corner_after_corner, args=(self.theirs, pairs.season), daemon=True
        )

    def __enter__(self) -> Beside:
        return self

    def __exit__(self, *_why: object) -> None:
        if self.process.pid is not None:
            self.process.kill()
            self.process.join()
        self.pipe.close()
        self.theirs.close()

    def begin(self) -> None:
        """Start that process, if it was not."""
        if self.process.pid is None:
            self.process.start()
            self.theirs.close()

    def cover(self, *, asked: bool) -> None:
        """Begin with how many can have a grower, if that is ``asked``."""
        self.here.covering = asked
        try:
            self.pipe.send(asked)
        except OSError:
            return  # it is done here

    def guide(self, guide: Guide) -> None:
        try:
            self.pipe.send(guide)
        except OSError:
            self.done_here.append(self.here.follow(guide))

    def found(self, seconds: float) -> list[Found]:
        """What came of all that was done since last time; at least one if it comes within so
        many seconds.
        """
        answers, self.done_here = self.done_here, []
        try:
            while self.pipe.poll(0 if answers else max(0.0, seconds)):
                answers.append(self.pipe.recv())
        except (OSError, EOFError):
            answers.append(self.here.go_on())
        return answers


def _corner_after_corner(pipe: Connection, season: Season) -> None:
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who asked is asked to end, and ends us
    improving = Improving(possible_pairs(season))
    try:
        if pipe.recv():
            improving.covering = True
            pipe.send(improving.go_on())
        guide = pipe.recv()
        while True:
            while pipe.poll():
                guide = pipe.recv()
            if guide is not None:
                pipe.send(improving.follow(guide))
                guide = None
            pipe.send(improving.go_on())
            if improving.spent:
                guide = pipe.recv()
    except (OSError, EOFError):
        return  # nobody listens any more


def end_with_parent() -> None:
    """Linux ends us with our parent, also in the middle of a solve that lets no thread run."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
