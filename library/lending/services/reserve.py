"""What may not be lent of a variety, because the library would regrow from it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from library.catalogue.models import BreedingStatus, Pollination, SpeciesFigure, Variety
from library.germination.advice import CONFIDENCE, LEAST_GERMINATION
from library.germination.models import BenchRules, Replicate
from library.lending.models import LendingRules
from library.science.sowing import reserve_seeds
from library.stock.models import Lot, Packet

ROUNDING = 1e-9
RULE_OF_THUMB = (
    "Growing for Market, An introduction to growing seed for yourself or for sale: about 20 "
    "plants for inbreeders, 100 for outbreeders"
)
COMMON_PRACTICE = "common practice, no source"
# Plants that keep a variety, where its species has no figure of its own.
ASSUMED_POPULATION = {
    Pollination.SELF: (20, RULE_OF_THUMB),
    Pollination.MOSTLY_SELF: (20, RULE_OF_THUMB),
    Pollination.INSECT: (100, RULE_OF_THUMB),
    Pollination.WIND: (100, RULE_OF_THUMB),
    Pollination.CLONAL: (5, COMMON_PRACTICE),
}


@dataclass(frozen=True)
class Figure:
    """A number of the species, who says so, and how it was come by."""

    number: Decimal
    source: str
    how: str


Figures = dict[str, Figure]


class Germination(NamedTuple):
    """The share of a lot that is expected to sprout: from its estimate for a day, else from a
    test; without a lot it is ``assumed`` from what is said there.

    Its source is put into words only when somebody asks: a loan does not.
    """

    share: float
    is_tested: bool = False
    number: str = ""
    estimated_on: dt.date | None = None
    assumed: str = ""

    @property
    def source(self) -> str:
        """What it is from, in words."""
        if not self.number:
            return self.assumed
        if self.estimated_on is None:
            return _("test of lot %(lot)s") % {"lot": self.number}
        told = {"lot": self.number, "day": date_format(self.estimated_on)}
        if self.is_tested:
            return _("estimate of lot %(lot)s for %(day)s, from its tests") % told
        return _("estimate of lot %(lot)s for %(day)s, not tested") % told


@dataclass(frozen=True)
class Population:
    """Plants that keep the variety, and who says so."""

    plants: int
    source: str
    how: str


@dataclass(frozen=True)
class LotOnHand:
    """A lot's seeds, and what they are worth in seeds as good as the best."""

    number: str
    seeds: int
    germination: float
    worth: int


@dataclass(frozen=True)
class Reserve:
    """Seeds that must stay, seeds there are (in seeds as good as the best), and the rest."""

    seeds: int
    have: int
    lots: tuple[LotOnHand, ...]
    sowings: int
    population: Population
    germination: Germination
    shares: dict[int, float]

    @property
    def inputs(self) -> dict:
        """What the reserve was made from, for a page."""
        return {
            "plants": self.population.plants,
            "plants_source": str(self.population.source),
            "germination_percent": round(self.germination.share * 100),
            "germination_source": str(self.germination.source),
            "sowings": self.sowings,
            "confidence": CONFIDENCE,
        }

    @property
    def lendable(self) -> int:
        return max(0, self.have - self.seeds)

    def cost_of(self, packet: Packet) -> int:
        """What lending the packet takes from ``have``: nothing, if its lot is withheld."""
        part = _part(self.shares.get(packet.lot_id, 0.0), self.germination.share)
        return math.ceil(packet.seeds * part - ROUNDING)

    def allows(self, packet: Packet) -> bool:
        return self.seeds == 0 or self.cost_of(packet) <= self.lendable


Reserves = dict[int, Reserve]


def reserve_of(variety: Variety, rules: LendingRules | None = None) -> Reserve:
    """The reserve of a variety and what of its seed may be lent.

    Each kept sowing has so many seeds that the smallest population that keeps the variety
    stands with 95 % confidence at the best known germination: that of the best lot, from the
    median of its stored estimate, else from its newest test. Lots that sprout worse count for
    less, in proportion; withheld lots count for nothing. An F1 hybrid cannot be regrown from
    its own seed, so it has no reserve.
    """
    rules = rules or LendingRules.current()
    figures, lots = figures_of(variety), _lots_of(variety)
    tests = _newest_tests([lot for lot in lots if lot.median is None])
    return _reserve(variety, rules, figures, lots, tests)


def reserves_of(varieties: Iterable[Variety], rules: LendingRules | None = None) -> Reserves:
    """The reserve of each of many varieties, by key, in a few queries for all of them.

    Fetch their crops and species first.
    """
    asked = list(varieties)
    rules = rules or LendingRules.current()
    figures = figures_of_species({variety.crop.species_id for variety in asked})
    lots: dict[int, list[_LotRow]] = {variety.pk: [] for variety in asked}
    columns = ("variety", *LOT_COLUMNS)
    for key, *facts in _lending_lots().filter(variety__in=lots).values_list(*columns):
        lots[key].append(_LotRow(*facts))
    untested = [lot for rows in lots.values() for lot in rows if lot.median is None]
    tests = _newest_tests(untested)
    return {
        variety.pk: _reserve(
            variety, rules, figures[variety.crop.species_id], lots[variety.pk], tests
        )
        for variety in asked
    }


def _reserve(
    variety: Variety,
    rules: LendingRules,
    figures: Figures,
    rows: list[_LotRow],
    tests: dict[int, Germination],
) -> Reserve:
    sowings = 0 if variety.breeding_status == BreedingStatus.F1 else rules.reserve_sowings
    lots, germination, shares = _on_hand(rows, tests, figures)
    population = population_of(variety, figures)
    kept = 0
    if sowings:
        kept = reserve_seeds(
            min_population=population.plants,
            germination=max(germination.share, LEAST_GERMINATION),
            confidence=CONFIDENCE,
            sowings=sowings,
        )
    return Reserve(
        seeds=kept,
        have=sum(lot.worth for lot in lots),
        lots=lots,
        sowings=sowings,
        population=population,
        germination=germination,
        shares=shares,
    )


def figures_of(variety: Variety) -> Figures:
    """The figures of the variety's species, by quantity."""
    species = variety.crop.species_id
    return figures_of_species([species])[species]


def figures_of_species(species: Iterable[int]) -> dict[int, Figures]:
    """The figures of each species, by its key and quantity; one query."""
    found: dict[int, Figures] = {key: {} for key in species}
    for row in SpeciesFigure.objects.filter(species__in=found, number__isnull=False):
        if row.number is not None:
            found[row.species_id][row.quantity] = Figure(row.number, row.source, row.how)
    return found


def population_of(variety: Variety, figures: Figures) -> Population:
    """The plants that keep a variety: its own figure, its species', else a rule of thumb."""
    if variety.min_population:
        return Population(variety.min_population, _("the variety's card"), "")
    figure = figures.get(SpeciesFigure.Quantity.MIN_POPULATION)
    if figure is not None and figure.number >= 1:
        return Population(math.ceil(figure.number), figure.source, figure.how)
    plants, source = ASSUMED_POPULATION[Pollination(variety.crop.species.pollination)]
    return Population(plants, source, SpeciesFigure.How.COMMON_PRACTICE)


def assumed_germination(figures: Figures) -> Germination:
    """What is taken for seed that nobody tested: the federal minimum, else our own standard."""
    figure = figures.get(SpeciesFigure.Quantity.FEDERAL_MIN_PERCENT)
    if figure is not None and figure.number > 0:
        return Germination(float(figure.number) / 100, assumed=figure.source)
    percent = BenchRules.current().standard_percent
    told = _("the library's own standard, as no lot was tested")
    return Germination(percent / 100, assumed=told)


LOT_COLUMNS = (
    "pk",
    "number",
    "loose",
    "packed",
    "estimate__median",
    "estimate__on",
    "estimate__evidence",
)


class _LotRow(NamedTuple):
    """What the reserve reads of a lot; ``evidence`` is the tests that its estimate rests on."""

    pk: int
    number: str
    loose: int
    packed: int
    median: float | None
    estimated_on: dt.date | None
    evidence: list | None

    @property
    def seeds(self) -> int:
        return self.loose + self.packed


def _on_hand(
    lots: list[_LotRow], tests: dict[int, Germination], figures: Figures
) -> tuple[tuple[LotOnHand, ...], Germination, dict[int, float]]:
    known = {lot.pk: _estimated(lot) for lot in lots if lot.median is not None}
    known |= {lot.pk: tests[lot.pk] for lot in lots if lot.pk in tests}
    best = _best(known)
    shares = {pk: each.share for pk, each in known.items()}
    if best is None or len(known) < len(lots):
        assumed = assumed_germination(figures)
        best = best or assumed
        shares = {lot.pk: shares.get(lot.pk, assumed.share) for lot in lots}
    on_hand = tuple(
        LotOnHand(
            lot.number,
            lot.seeds,
            shares[lot.pk],
            _worth(lot.seeds, shares[lot.pk], best.share),
        )
        for lot in lots
    )
    return on_hand, best, shares


def _lots_of(variety: Variety) -> list[_LotRow]:
    """The variety's lots with seed that are not withheld, each with its estimate if it has one.

    One query of plain columns: it is asked for each loan.
    """
    return [
        _LotRow(*row)
        for row in _lending_lots().filter(variety=variety).values_list(*LOT_COLUMNS)
    ]


def _lending_lots():
    return Lot.objects.with_seed().filter(withheld_reason="").order_by("pk")


def _estimated(lot: _LotRow) -> Germination:
    return Germination(lot.median or 0.0, bool(lot.evidence), lot.number, lot.estimated_on)


def _newest_tests(lots: list[_LotRow]) -> dict[int, Germination]:
    """By lot the share that sprouted in its latest closed test."""
    if not lots:
        return {}
    numbers = {lot.pk: lot.number for lot in lots}
    dishes = (
        Replicate.objects.filter(test__lot__in=numbers, test__state="closed")
        .order_by("test__closed_on", "test")
        .values_list("test__lot", "test", "normal", "seeds")
    )
    latest = {}
    for (lot, _test), of_test in groupby(dishes, key=itemgetter(0, 1)):
        counts = [(normal, seeds) for _lot, _test, normal, seeds in of_test]
        normal, seeds = map(sum, zip(*counts, strict=True))
        latest[lot] = Germination(normal / seeds, True, numbers[lot])
    return latest


def _best(known: dict[int, Germination]) -> Germination | None:
    """The best of the lots that were tested; where none was, the best of the estimates."""
    tested = [each for each in known.values() if each.is_tested]
    return max(tested or known.values(), key=lambda each: each.share, default=None)


def _worth(seeds: int, share: float, best: float) -> int:
    """Seeds in seeds as good as the best, rounded down."""
    return math.floor(seeds * _part(share, best) + ROUNDING)


def _part(share: float, best: float) -> float:
    return 1.0 if best <= 0 else min(1.0, share / best)
