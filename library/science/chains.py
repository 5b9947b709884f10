"""A chain of lots as plain data: its shape, and what is taken for granted where nobody noted.

A chain is a mapping that JSON can hold::

    {
        "lot": "E",                       # the lot to be measured
        "lots": {
            "A": {},                      # no parents: a deposit, where the measuring starts
            "B": {"parents": {"A": 1}, "plants": 20},
            "C": {"parents": {"A": 1}, "plants": 6, "mating": "selfing", "selfing_rate": 0.95},
            "D": {"parents": {"C": 1}, "mating": "dioecious", "females": 9, "males": 3},
            "E": {"parents": {"B": 0.7, "D": 0.3}, "mating": "bulk"},
        },
        "assumed_plants": 20,             # may be left out
    }

Each lot is a mapping, whose keys may all be left out:

``parents``
    the lots sown (or bulked) to make it, each with its share of the seed, above 0 to 1,
    together 1; None for every share means equal ones. Without parents the lot is a deposit.
``mating``
    ``outcrossing`` (the usual: within the stand any plant's pollen reaches any plant, its own
    included), ``selfing``, ``dioecious``, ``cross`` (mothers of one lot, pollen of another),
    ``clonal`` (tubers, cloves, slips) or ``bulk`` (lots poured together, nothing grown).
``selfing_rate``
    the share of seeds from a plant's own pollen, 0 to 1; with ``outcrossing`` (where 0 means a
    crop that cannot self) or ``selfing`` (where leaving it out means 1).
``plants``
    how many gave seed, 1 or more; in a ``cross`` the mothers; in a ``clonal`` crop those that
    sets were taken from.
``stood``
    how many came up; stands in where ``plants`` was not noted.
``females``, ``males``
    for ``dioecious``; without them, ``plants`` counts females.
``pollen_parents``, ``pollen_plants``
    for ``cross``: where the pollen came from, shaped like ``parents``, and how many plants gave
    it.
``inbreeding``, ``coancestry``
    for a deposit: how inbred its seeds are and how related to one another, 0 to 1. Without
    them its seeds are unrelated, and as inbred as its own ``selfing_rate`` makes a population
    in the long run. A pure line is 1 and 1. Deposits are taken as unrelated to one another.

A deposit's own ``plants`` are allowed and not used: what it lost before it was brought is not
part of what the library kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from graphlib import CycleError, TopologicalSorter
from typing import Any

from library.science.reasons import COMMON_PRACTICE, Reason, because

MOST_LOTS = 5000
MOST_PLANTS = 1_000_000_000
ASSUMED_PLANTS = 20
SEX_RATIO_SOURCE = "common practice, no source: as many males as females are sown"
SHARES_MAY_MISS = 0.005  # shares written with few decimals
_KEYS = frozenset(
    {
        "parents",
        "mating",
        "selfing_rate",
        "plants",
        "stood",
        "females",
        "males",
        "pollen_parents",
        "pollen_plants",
        "inbreeding",
        "coancestry",
    }
)


class Mating(StrEnum):
    """How a lot's seed came about."""

    OUTCROSSING = "outcrossing"
    SELFING = "selfing"
    DIOECIOUS = "dioecious"
    CROSS = "cross"
    CLONAL = "clonal"
    BULK = "bulk"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One lot of a chain, with every number filled in.

    ``seed_side`` and ``pollen_side`` are where the mothers and the fathers came from;
    ``mothers`` and ``fathers`` count them (0 where nothing was grown). ``selfing_rate`` is None
    for a stand in which each plant's pollen reaches all alike.
    """

    lot: str
    mating: Mating = Mating.OUTCROSSING
    seed_side: Mapping[str, float] = field(default_factory=dict)
    pollen_side: Mapping[str, float] = field(default_factory=dict)
    mothers: int = 0
    fathers: int = 0
    selfing_rate: float | None = None
    inbreeding: float = 0.0
    coancestry: float = 0.0

    @property
    def is_deposit(self) -> bool:
        return not self.seed_side

    @property
    def two_sided(self) -> bool:
        """Whether no plant is both mother and father."""
        return self.mating in (Mating.DIOECIOUS, Mating.CROSS)

    @property
    def is_growout(self) -> bool:
        """Whether genes were shuffled: plants grew and set seed."""
        return not self.is_deposit and self.mating not in (Mating.BULK, Mating.CLONAL)

    def sources(self) -> dict[str, float]:
        """Return the share of the genes that came from each lot it was made of."""
        if not self.two_sided:
            return dict(self.seed_side)
        shares: dict[str, float] = {}
        for side in (self.seed_side, self.pollen_side):
            for lot, share in side.items():
                shares[lot] = shares.get(lot, 0.0) + share / 2
        return shares


@dataclass(frozen=True)
class Chain:
    """The steps that lead to a lot, parents before children, and what was assumed."""

    lot: str
    steps: tuple[Step, ...]
    assumed: tuple[Reason, ...]


def read_chain(chain: Mapping[str, Any]) -> Chain:
    """Read a chain of the shape above; lots that did not lead to the measured one are left out.

    Range: up to 5000 lots that did. Raises ValueError with a sentence that names the lot for
    anything that cannot be: a missing parent, a circle, shares that do not make a whole, counts
    that are not.
    """
    try:
        lots, lot = chain["lots"], chain["lot"]
    except (KeyError, TypeError) as missing:
        raise ValueError(
            "A chain is {'lot': the one to measure, 'lots': {each lot: what is known of it}}."
        ) from missing
    assumed: list[Reason] = []
    usual = _count(lot, "assumed_plants", chain.get("assumed_plants", ASSUMED_PLANTS))
    steps = [_Reader(name, lots[name], usual, assumed).step() for name in _in_order(lot, lots)]
    if sum(step.is_deposit for step in steps) > 1:
        assumed.append(because("chain_deposits_unrelated", COMMON_PRACTICE))
    return Chain(lot=lot, steps=tuple(steps), assumed=tuple(assumed))


def _in_order(lot: str, lots: Mapping[str, Any]) -> Iterable[str]:
    """The lots that led to this one, parents before children."""
    waiting, parents_of = [lot], {}
    while waiting:
        name = waiting.pop()
        if name in parents_of:
            continue
        if name not in lots:
            raise ValueError(f"The chain names the lot {name} and does not describe it.")
        parents_of[name] = _parents(name, lots[name])
        waiting.extend(parents_of[name])
    if len(parents_of) > MOST_LOTS:
        raise ValueError(
            f"{len(parents_of)} lots led to {lot}; up to {MOST_LOTS} can be measured at once."
        )
    try:
        as_given = {name: parents_of[name] for name in lots if name in parents_of}
        return tuple(TopologicalSorter(as_given).static_order())
    except CycleError as circle:
        round_trip = " from ".join(map(str, circle.args[1][::-1]))
        raise ValueError(f"No lot can be its own ancestor: {round_trip}.") from None


def _parents(lot: str, record: Any) -> list[str]:
    if not isinstance(record, Mapping):
        raise ValueError(f"Lot {lot}: describe it by a mapping, such as {{'plants': 20}}.")
    named: list[str] = []
    for key in ("parents", "pollen_parents"):
        parents = record.get(key) or {}
        if not isinstance(parents, Mapping):
            raise ValueError(
                f"Lot {lot}: {key} maps each lot to its share, such as {{'A': 1}}."
            )
        named.extend(parents)
    return named


class _Reader:
    """Reads one lot's record, noting what it has to assume."""

    def __init__(self, lot: str, record: Mapping[str, Any], usual: int, assumed: list[Reason]):
        self.lot, self.record, self.usual, self.assumed = lot, record, usual, assumed
        if unknown := sorted(set(record) - _KEYS):
            raise ValueError(
                f"Lot {lot}: nothing is known of {', '.join(map(repr, unknown))}; the words "
                f"are {', '.join(sorted(_KEYS))}."
            )
        try:
            self.mating = Mating(record.get("mating") or Mating.OUTCROSSING)
        except ValueError:
            raise ValueError(
                f"Lot {lot}: mating is one of {', '.join(Mating)}, not {record['mating']!r}."
            ) from None

    def step(self) -> Step:
        if not self.record.get("parents"):
            return self._deposit()
        seed_side = self._shares("parents")
        made = {
            "lot": self.lot,
            "mating": self.mating,
            "seed_side": seed_side,
            "pollen_side": seed_side,
        }
        return Step(**made | self._grown())

    def _grown(self) -> dict[str, Any]:
        match self.mating:
            case Mating.BULK:
                return {}
            case Mating.DIOECIOUS:
                return self._sexes()
            case Mating.CROSS:
                return self._crossed()
        plants, rate = self._plants(), self._selfing()
        if plants == 1 and rate != 1 and self.mating is not Mating.CLONAL:
            self._note("chain_lone_plant", COMMON_PRACTICE)
        return {"mothers": plants, "fathers": plants, "selfing_rate": rate}

    def _deposit(self) -> Step:
        if self.record.get("pollen_parents"):
            raise ValueError(f"Lot {self.lot}: pollen parents need seed parents beside them.")
        rate = self._selfing()
        inbreeding = self._fraction("inbreeding")
        if inbreeding is None:
            inbreeding = rate / (2 - rate) if rate else 0.0
            if inbreeding:
                self._note(
                    "chain_deposit_inbred",
                    "F = s / (2 - s), Crow & Kimura 1970 (from memory)",
                    inbreeding_percent=100 * inbreeding,
                    selfing_percent=100 * (rate or 0.0),
                )
        coancestry = self._fraction("coancestry") or 0.0
        return Step(lot=self.lot, inbreeding=inbreeding, coancestry=coancestry)

    def _sexes(self) -> dict[str, Any]:
        females = self._counted("females")
        if females is None:
            females = self._plants()
        males = self._counted("males")
        if males is None:
            stood = self._counted("stood") or 0
            males = stood - females if stood > females else females
            self._note("chain_males_assumed", SEX_RATIO_SOURCE, males=males, females=females)
        return {"mothers": females, "fathers": males}

    def _crossed(self) -> dict[str, Any]:
        if not self.record.get("pollen_parents"):
            raise ValueError(
                f"Lot {self.lot}: a cross needs pollen_parents, such as {{'B': 1}}."
            )
        fathers = self._counted("pollen_plants")
        mothers = self._plants()
        if fathers is None:
            fathers = mothers
            self._note(
                "chain_pollen_plants_assumed", COMMON_PRACTICE, males=fathers, females=mothers
            )
        pollen_side = self._shares("pollen_parents")
        return {"mothers": mothers, "fathers": fathers, "pollen_side": pollen_side}

    def _plants(self) -> int:
        counted = self._counted("plants")
        if counted is not None:
            return counted
        stood = self._counted("stood")
        if stood is not None:
            self._note("chain_plants_as_stood", COMMON_PRACTICE, plants=stood)
            return stood
        self._note("chain_plants_assumed", COMMON_PRACTICE, plants=self.usual)
        return self.usual

    def _selfing(self) -> float | None:
        rate = self._fraction("selfing_rate")
        if self.mating is Mating.SELFING:
            return 1.0 if rate is None else rate
        return rate if self.mating is Mating.OUTCROSSING else None

    def _shares(self, key: str) -> dict[str, float]:
        shares = dict(self.record[key])
        if all(share is None for share in shares.values()):
            if len(shares) > 1:
                self._note("chain_shares_equal", COMMON_PRACTICE, lots=len(shares))
            return dict.fromkeys(shares, 1 / len(shares))
        for parent, share in shares.items():
            if not (_is_number(share) and 0 < share <= 1):
                raise ValueError(
                    f"Lot {self.lot}: the share of {parent} is a fraction above 0 to 1, not "
                    f"{share}."
                )
        total = math.fsum(shares.values())
        if abs(total - 1) > SHARES_MAY_MISS:
            raise ValueError(
                f"Lot {self.lot}: the shares of its {key} make {total:g}, and should make 1."
            )
        return {parent: float(share) / float(total) for parent, share in shares.items()}

    def _counted(self, key: str) -> int | None:
        value = self.record.get(key)
        return None if value is None else _count(self.lot, key, value)

    def _fraction(self, key: str) -> float | None:
        value = self.record.get(key)
        if value is None:
            return None
        if not (_is_number(value) and 0 <= value <= 1):
            raise ValueError(f"Lot {self.lot}: {key} is a fraction from 0 to 1, not {value}.")
        return float(value)

    def _note(self, key: str, source: str, **inputs: Any) -> None:
        self.assumed.append(because(key, source, lot=str(self.lot), **inputs))


def _count(lot: str, key: str, value: Any) -> int:
    if not (_is_number(value) and 1 <= value <= MOST_PLANTS and value == int(value)):
        raise ValueError(
            f"Lot {lot}: {key} is a whole number of plants, 1 or more, not {value}."
        )
    return int(value)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float | Decimal) and not isinstance(value, bool)
