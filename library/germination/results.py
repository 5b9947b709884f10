"""What a closed test says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from library.catalogue.models import CountedAs, SpeciesFigure
from library.germination.models import BenchRules, GerminationTest
from library.science.germination import (
    ReplicateCheck,
    exact_interval,
    percent,
    replicates_agree,
)
from library.stock.models import Lot

Quantity = SpeciesFigure.Quantity
MOST_COMPARED = 16  # the studentized range is tabled for no more


@dataclass(frozen=True)
class TestResult:
    """A test's percentage, how sure it is, and what it is held against.

    ``low`` and ``high`` are the exact 95 % interval, in percent. ``federal_min`` is the federal
    minimum where there is one, else a state's, with the figure it came from; it counts hard
    seed as germinated (7 CFR 201.31; from memory), the library's standard does not.
    ``replicates_agree`` is None where they cannot be compared: one dish, more than 16, or
    dishes of different size. ``verdict`` is what a test with few seeds was sown to say of the
    standard that it was given (``cut_off``: by the side on which it stood when its seeds ran
    out); such a test stops by what it finds, so its interval is only nearly a 95 % one.
    """

    germinated: int
    sown: int
    percent: int
    percent_with_hard: int
    low: float
    high: float
    library_standard: int
    federal_min: int | None = None
    minimum: SpeciesFigure | None = None
    replicates_agree: bool | None = None
    range_percent: float | None = None
    tolerated_range: float | None = None
    verdict: str = ""
    cut_off: bool = False

    __test__ = False  # not a test class, whatever its name says to pytest

    @property
    def exact_percent(self) -> float:
        return self.germinated * 100 / self.sown

    @property
    def meets_federal(self) -> bool | None:
        return None if self.federal_min is None else self.percent_with_hard >= self.federal_min

    @property
    def meets_standard(self) -> bool:
        return self.percent >= self.library_standard

    @property
    def sure(self) -> bool:
        """Whether the whole interval lies on one side of the library's standard."""
        return self.low >= self.library_standard or self.high < self.library_standard

    @property
    def agreement_sentence(self) -> str:
        """Whether the dishes agree, in words."""
        if self.replicates_agree is None:
            return _(
                "One dish, dishes of different size, or more than %(most)s: nothing to compare."
            ) % {"most": MOST_COMPARED}
        numbers = {
            "range": number_format(f"{self.range_percent:g}"),
            "most": number_format(f"{self.tolerated_range:g}"),
        }
        if self.replicates_agree:
            return (
                _("The dishes agree: %(range)s points apart, %(most)s are tolerated.") % numbers
            )
        return (
            _(
                "The dishes differ too much: %(range)s points apart, %(most)s are tolerated. "
                "Test again."
            )
            % numbers
        )


def result_of(test: GerminationTest, *, rules: BenchRules | None = None) -> TestResult | None:
    """The result of a test whose dishes were counted; None while it runs.

    Give ``rules`` when asking about many tests; prefetch ``replicates`` and the lot's figures.
    """
    dishes = list(test.replicates.all())
    if test.closed_on is None or not dishes:
        return None
    normal, sown = sum(d.normal for d in dishes), sum(d.seeds for d in dishes)
    low, high = exact_interval(normal, sown)
    minimum = minimum_of(test.lot)
    check = agreement_of(dishes)
    return TestResult(
        germinated=normal,
        sown=sown,
        percent=percent(normal, sown),
        percent_with_hard=percent(normal + sum(d.hard for d in dishes), sown),
        low=100 * low,
        high=100 * high,
        library_standard=(rules or BenchRules.current()).standard_percent,
        federal_min=int(minimum.number) if minimum and minimum.number else None,
        minimum=minimum,
        verdict=test.verdict,
        cut_off=test.cut_off,
        replicates_agree=None if check is None else check.agree,
        range_percent=None if check is None else check.range_percent,
        tolerated_range=None if check is None else check.tolerated_percent,
    )


class Dish(Protocol):
    """A dish that is counted: a replicate, or its two figures alone."""

    @property
    def normal(self) -> int: ...
    @property
    def seeds(self) -> int: ...


def agreement_of(dishes: Sequence[Dish]) -> ReplicateCheck | None:
    """Whether the dishes of a test agree; None where they cannot be compared."""
    comparable = 2 <= len(dishes) <= MOST_COMPARED
    if not comparable or len({dish.seeds for dish in dishes}) > 1:
        return None
    return replicates_agree([dish.normal for dish in dishes], dishes[0].seeds)


def minimum_of(lot: Lot) -> SpeciesFigure | None:
    """The federal minimum germination, else a state's; none for tubers, cloves and slips."""
    if lot.counted_as != CountedAs.SEED:
        return None
    figures = figures_of(lot)
    return figures.get(Quantity.FEDERAL_MIN_PERCENT) or figures.get(Quantity.STATE_MIN_PERCENT)


def figures_of(lot: Lot) -> dict[str, SpeciesFigure]:
    """The figures of the lot's species that are numbers or words, by what they tell."""
    figures: Iterable[SpeciesFigure] = lot.variety.crop.species.figures.all()
    return {figure.quantity: figure for figure in figures}
