"""How to test a lot: how many seeds to spend, and the conditions that are published for it."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from library.catalogue.models import SpeciesFigure
from library.germination.results import figures_of
from library.stock.models import Lot
from library.stock.services.checks import plain

Quantity = SpeciesFigure.Quantity

# Common practice, no source: a small library does not spend more than a tenth of a lot on one
# test, and learns little from fewer than ten seeds. The largest is half of a laboratory's 400.
SIZES = ((4, 50), (4, 25), (2, 25), (2, 10))
SMALLEST = 10
METHOD = (
    Quantity.TEST_SUBSTRATE,
    Quantity.TEST_TEMPERATURE_C,
    Quantity.TEST_FIRST_COUNT_DAYS,
    Quantity.TEST_FINAL_COUNT_DAYS,
    Quantity.TEST_DIRECTIONS,
)


@dataclass(frozen=True)
class Size:
    """So many dishes with so many seeds in each."""

    replicates: int
    seeds_each: int

    @property
    def seeds(self) -> int:
        return self.replicates * self.seeds_each


def suggested_size(lot: Lot) -> Size:
    """The largest usual test that costs at most a tenth of what is left."""
    for replicates, seeds_each in SIZES:
        if replicates * seeds_each * 10 <= lot.balance:
            return Size(replicates, seeds_each)
    return Size(1, max(1, min(SMALLEST, lot.balance)))


def method_of(lot: Lot) -> list[SpeciesFigure]:
    """The published test conditions of the lot's species, those that are known."""
    figures = figures_of(lot)
    return [figures[quantity] for quantity in METHOD if quantity in figures]


@dataclass(frozen=True)
class Conditions:
    """What is published for testing a species; empty or None where nothing is."""

    substrate: str = ""
    temperature_c: str = ""
    directions: str = ""
    first_count_days: int | None = None
    final_count_days: int | None = None

    def first_count_on(self, start: dt.date) -> dt.date | None:
        return _after(start, self.first_count_days)

    def final_count_on(self, start: dt.date) -> dt.date | None:
        return _after(start, self.final_count_days)


def conditions_for(lot: Lot) -> Conditions:
    """The published conditions of the lot's species, as a test is given them."""
    figures = figures_of(lot)
    return Conditions(
        substrate=_words(figures.get(Quantity.TEST_SUBSTRATE))[:80],
        temperature_c=_words(figures.get(Quantity.TEST_TEMPERATURE_C))[:40],
        directions=_words(figures.get(Quantity.TEST_DIRECTIONS))[:400],
        first_count_days=_days(figures.get(Quantity.TEST_FIRST_COUNT_DAYS)),
        final_count_days=_days(figures.get(Quantity.TEST_FINAL_COUNT_DAYS)),
    )


def _words(figure: SpeciesFigure | None) -> str:
    if figure is None:
        return ""
    return figure.text if figure.number is None else plain(figure.number)


def _days(figure: SpeciesFigure | None) -> int | None:
    """The days of a figure; of a range such as "4-7" the first, to look from then on."""
    days = re.match(r"\d+", _words(figure))
    return int(days.group()) if days else None


def _after(start: dt.date, days: int | None) -> dt.date | None:
    return None if days is None else start + dt.timedelta(days=days)


def cost_of(lot: Lot, seeds: int) -> float:
    """The share of what is left of a lot that so many seeds are; above 1 they are not there."""
    return seeds / lot.balance if lot.balance else float(seeds > 0)
