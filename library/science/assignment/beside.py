"""Corner after corner in a process of its own, while the bound rises in this one.

Not in a thread: putting a corner's program together would hold up each step of the bound, and
the two would have to wait for one another. What each has found goes to the other when it suits
the other. Without that process, where none may be started or it was killed, its work is done
here in between.
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
from library.science.assignment.neighbourhoods import Corners
from library.science.assignment.pairs import Pairs, possible_pairs
from library.science.assignment.program import Program
from library.science.assignment.season import Pair, Season

CORNER = 4.0  # seconds that a corner may take
LAST = 0.3  # seconds before the end in which what it found is still heard of
PR_SET_PDEATHSIG = 1  # prctl(2)


@dataclass(frozen=True)
class Guide:
    """The best plan so far, and where a better one may be: the pairs that prices choose now and
    then, what is lost with each variety and each garden; and how many seconds are left.
    """

    chosen: frozenset[Pair]
    likely: frozenset[Pair]
    of_variety: dict[str, float]
    of_garden: dict[str, float]
    seconds: float


class Improving:
    """One corner after another of the best plan so far."""

    def __init__(self, pairs: Pairs) -> None:
        self.pairs, self.best, self.turn = pairs, Best(pairs), 0
        self.corners: Corners | None = None
        self.ends = 0.0

    def follow(self, guide: Guide) -> None:
        self.best.consider(guide.chosen)
        self.turn += 1
        self.ends = time.monotonic() + guide.seconds - LAST
        self.corners = Corners(
            self.pairs,
            guide.likely | self.best.chosen,
            guide.of_variety,
            guide.of_garden,
            *([self.corners.size] if self.corners else ()),
            seed=self.turn,
        )

    def corner(self) -> frozenset[Pair] | None:
        """Solve one; the plan, if that made it better."""
        if self.corners is None:
            return None
        started, chosen = time.monotonic(), self.best.chosen
        free = self.corners.free(chosen)
        corner = Program(self.pairs, free | chosen, kept=chosen - free)
        answer = corner.best(min(CORNER, self.ends - started))
        self.corners.took(time.monotonic() - started)
        return self.best.chosen if self.best.consider(answer.chosen) else None


class Beside:
    """Guides that process and hears of it; with ``with``, which ends it."""

    def __init__(self, pairs: Pairs) -> None:
        self.here = Improving(pairs)
        spawn = multiprocessing.get_context("spawn")
        self.pipe, theirs = spawn.Pipe()
        self.process = spawn.Process(
            target=_corner_after_corner, args=(theirs, pairs.season), daemon=True
        )
        self.process.start()
        theirs.close()

    def __enter__(self) -> Beside:
        return self

    def __exit__(self, *_why: object) -> None:
        self.process.kill()
        self.process.join()
        self.pipe.close()

    def guide(self, guide: Guide) -> None:
        try:
            self.pipe.send(guide)
        except OSError:
            self.here.follow(guide)

    def found(self, seconds: float) -> list[frozenset[Pair] | None]:
        """What came of each corner since last time, None where nothing; at least one if it
        comes within so many seconds.
        """
        answers = []
        try:
            while self.pipe.poll(0 if answers else max(0.0, seconds)):
                answers.append(self.pipe.recv())
        except (OSError, EOFError):
            answers.append(self.here.corner())
        return answers


def _corner_after_corner(pipe: Connection, season: Season) -> None:
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who asked is asked to end, and ends us
    improving = Improving(possible_pairs(season))
    try:
        improving.follow(pipe.recv())
        while True:
            guide = None
            while pipe.poll():
                guide = pipe.recv()
            if guide is not None:
                improving.follow(guide)
            pipe.send(improving.corner())
    except (OSError, EOFError):
        return  # nobody listens any more


def end_with_parent() -> None:
    """Linux ends us with our parent, also in the middle of a solve that lets no thread run."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
