"""How to test a lot: how many seeds to spend, and the conditions that are published for it."""

from __future__ import annotations

from dataclasses import dataclass

from library.catalogue.models import SpeciesFigure
from library.germination.results import figures_of
from library.stock.models import Lot

Quantity = SpeciesFigure.Quantity

# Common practice, no source: a small library does not spend more than a tenth of a lot on one
# test, and learns little from fewer than ten seeds. The largest is half of a laboratory's 400.
SIZES = ((4, 50), (4, 25), (2, 25), (2, 10))
SMALLEST = 10
METHOD = (
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


def usual_temperature(lot: Lot) -> str:
    figure = figures_of(lot).get(Quantity.TEST_TEMPERATURE_C)
    return (figure.text or f"{figure.number:g}")[:40] if figure else ""
