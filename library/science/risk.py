"""The chance that a variety is lost within some years, by a model small enough to argue with.

A variety is lost if, at the end of the years looked at, nobody has living seed of it and it
cannot be had from elsewhere. The model:

* each **custodian** (the library counts as one, each member who keeps seed at home as another)
  keeps what they hold with chance ``(1 - h)^T``: ``h`` is the yearly chance that everything in
  one place goes at once, by fire, flood, mice, a freezer that failed, or a move;
* a **holding** that was kept still has enough living seed to start again with chance ``alive``,
  which the viability estimate gives; seed that is alive in one jar of a custodian saves the
  variety, so a custodian's jars fail together only if each fails;
* a **grow-out** that was promised gives new seed with its grower's chance, and that seed is as
  safe as a custodian's for what is left of the time (taken as all of it);
* it can be had from **elsewhere** with a chance that somebody recorded.

All of them are taken to fail independently of one another. What that leaves out: a hard year is
hard for all growers alike, so the true risk is rather higher. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from library.science.reasons import COMMON_PRACTICE

HORIZON_YEARS = 3.0
YEARLY_HAZARD = 0.03  # common practice, no source: one place in about thirty a year
MOST_YEARS = 100.0


@dataclass(frozen=True, kw_only=True)
class Holding:
    """One lot in one custodian's keeping.

    ``alive`` is the chance, 0 to 1, that at the end of the years looked at it still holds
    enough living seed to start again. Raises ValueError outside the range.
    """

    key: str
    custodian: str
    alive: float

    def __post_init__(self) -> None:
        _chance(self.alive, "that a lot is alive")


@dataclass(frozen=True, kw_only=True)
class Situation:
    """What is known of a variety: who holds it, who promised to grow it, who else has it.

    ``growing`` are the chances of success of the grow-outs under way; ``elsewhere`` the chance
    that it can be had again from outside; ``hazard`` the yearly chance that a custodian loses
    everything; ``years`` above 0 to 100. Chances are from 0 to 1. Raises ValueError outside the
    ranges.
    """

    holdings: tuple[Holding, ...] = ()
    growing: tuple[float, ...] = ()
    elsewhere: float = 0.0
    hazard: float = YEARLY_HAZARD
    years: float = HORIZON_YEARS

    def __post_init__(self) -> None:
        _chance(self.elsewhere, "that it can be had elsewhere")
        _chance(self.hazard, "that a custodian loses everything")
        for success in self.growing:
            _chance(success, "that a grow-out succeeds")
        if not 0 < self.years <= MOST_YEARS:
            raise ValueError(
                f"Look ahead more than 0 and up to {MOST_YEARS:g} years, not {self.years:g}."
            )

    @property
    def kept(self) -> float:
        """The chance that one place keeps what it holds for all the years."""
        return float((1 - self.hazard) ** self.years)

    @property
    def custodians(self) -> tuple[str, ...]:
        return tuple(sorted({holding.custodian for holding in self.holdings}))


@dataclass(frozen=True, kw_only=True)
class Risk:
    """The chance of loss and what it is made of: chances that each part fails.

    ``lost`` is the product of ``custodians`` (each by name), ``growing`` (each grow-out) and
    ``elsewhere``. ``held``, ``promised`` and ``lost`` are what is left of certain loss (1) once
    the seed that is kept, then the grow-outs too, then the world outside are counted: the
    steps between them say what each of the three takes away, in that order.
    """

    lost: float
    custodians: dict[str, float]
    growing: tuple[float, ...]
    elsewhere: float
    source: str = COMMON_PRACTICE

    @property
    def held(self) -> float:
        """The chance that everybody who keeps seed of it fails."""
        return math.prod(self.custodians.values())

    @property
    def promised(self) -> float:
        """The chance that they and every grow-out fail."""
        return self.held * math.prod(self.growing)


def chance_of_loss(situation: Situation) -> Risk:
    """Return the chance that the variety is lost within the years of the situation.

    Formula: ``prod over custodians (1 - kept (1 - prod over their lots (1 - alive)))
    * prod over grow-outs (1 - kept * success) * (1 - elsewhere)`` with ``kept = (1 - h)^T``.
    Units: fractions and years. Source: the model above; common practice, no source.
    """
    custodians = {name: _fails(situation, name) for name in situation.custodians}
    growing = tuple(1 - situation.kept * success for success in situation.growing)
    elsewhere = 1 - situation.elsewhere
    lost = math.prod([*custodians.values(), *growing, elsewhere])
    return Risk(lost=lost, custodians=custodians, growing=growing, elsewhere=elsewhere)


def _fails(situation: Situation, custodian: str) -> float:
    theirs = (h.alive for h in situation.holdings if h.custodian == custodian)
    return 1 - situation.kept * (1 - math.prod(1 - alive for alive in theirs))


class Help(StrEnum):
    """What somebody could do for a variety."""

    DUPLICATE = "duplicate"
    ONE_GROWER = "one_grower"
    TWO_GROWERS = "two_growers"
    TEST = "test"


@dataclass(frozen=True, kw_only=True)
class Helped:
    """What one deed would do: the chance of loss after it, and by how much it fell."""

    deed: Help
    lost: float
    saves: float


def what_would_help(
    situation: Situation, *, success: float, tested: Iterable[tuple[float, float]] = ()
) -> list[Helped]:
    """Return the deeds, the one that lowers the chance of loss most first.

    ``success`` is a usual grower's chance, 0 to 1. A duplicate is the best holding again, in
    another place. A test saves seed only through what is done about its outcome: ``tested``
    gives, for each outcome of testing the best holding, its chance and the ``alive`` that would
    then be known, and a grow-out is taken to follow a bad one (alive under a half); without
    outcomes no test is judged. What would save nothing is left out: a test that uses up more
    than it tells, a duplicate of dead seed. Raises ValueError for chances that do not sum to 1.
    """
    now = chance_of_loss(situation).lost
    deeds: dict[Help, Callable[[Situation], Situation]] = {
        Help.ONE_GROWER: lambda s: replace(s, growing=(*s.growing, success)),
        Help.TWO_GROWERS: lambda s: replace(s, growing=(*s.growing, success, success)),
    }
    if situation.holdings:
        deeds[Help.DUPLICATE] = _duplicated
    after = {deed: chance_of_loss(do(situation)).lost for deed, do in deeds.items()}
    outcomes = list(tested)
    if outcomes and situation.holdings:
        after[Help.TEST] = _after_test(situation, outcomes, deeds[Help.ONE_GROWER])
    helped = [
        Helped(deed=d, lost=lost, saves=now - lost) for d, lost in after.items() if lost < now
    ]
    return sorted(helped, key=lambda h: (h.lost, h.deed))


def _best(situation: Situation) -> Holding:
    return max(situation.holdings, key=lambda h: (h.alive, h.key))


def _duplicated(situation: Situation) -> Situation:
    again = replace(_best(situation), key="duplicate", custodian="another place")
    return replace(situation, holdings=(*situation.holdings, again))


def _after_test(
    situation: Situation,
    outcomes: list[tuple[float, float]],
    grown: Callable[[Situation], Situation],
) -> float:
    """The mean chance of loss, if a bad outcome is followed by a grow-out."""
    if not math.isclose(math.fsum(chance for chance, _alive in outcomes), 1, abs_tol=1e-6):
        raise ValueError("The chances of a test's outcomes sum to 1.")
    best, lost = _best(situation), 0.0
    for chance, alive in outcomes:
        known = replace(best, alive=alive)
        others = tuple(h for h in situation.holdings if h != best)
        then = replace(situation, holdings=(*others, known))
        lost += chance * chance_of_loss(then if alive >= 0.5 else grown(then)).lost
    return lost


def _chance(value: float, what: str) -> None:
    if not 0 <= value <= 1:
        raise ValueError(f"The chance {what} lies from 0 to 1, not {value:g}.")
