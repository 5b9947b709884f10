"""What is known of a lot's viability: its storage by the viability equation, and its tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from django.db.models import prefetch_related_objects
from django.utils import timezone

from library.catalogue.models import CountedAs, Species, SpeciesFigure, ViabilityConstants
from library.germination.models import BenchRules
from library.germination.results import Dish, agreement_of, figures_of
from library.germination.storage import StorageHistory, history_of
from library.science.longevity import Longevity, longevity_of
from library.science.moisture import oil_percent
from library.science.posterior import LotRecord, LotTest
from library.science.reasons import COMMON_PRACTICE, Reason, because
from library.science.unpredicted import keeps_dry
from library.science.viability import Constants
from library.stock.models import Lot
from library.stock.places import PlaceTree

if TYPE_CHECKING:
    from library.science.posterior import Estimate, ViabilityOn

Quantity = SpeciesFigure.Quantity


@dataclass(frozen=True)
class CountedTest:
    """A closed test as evidence: the day it was counted, what came up, and whether its dishes
    agree (they do where there is nothing to compare).
    """

    key: int
    on: dt.date
    germinated: int
    sown: int
    agrees: bool = True
    range_percent: float | None = None
    tolerated_percent: float | None = None

    @property
    def record(self) -> list[int]:
        """As an estimate keeps it beside itself."""
        return [self.key, self.germinated, self.sown]


@dataclass(frozen=True, eq=False)
class LotViability:
    """A lot's viability on any day from ``stored_on``, as shares from 0 to 1.

    ``tests`` are those that went in: closed, not void, their dishes in agreement. A lot that
    nothing can predict has no ``estimate``; ``cannot`` says why, and every day is None.
    """

    history: StorageHistory
    tests: tuple[CountedTest, ...]
    standard: float
    estimate: Estimate | None = None
    cannot: Reason | None = None

    @property
    def stored_on(self) -> dt.date:
        return self.history.stored_on

    @property
    def assumptions(self) -> tuple[Reason, ...]:
        """All that went in besides the tests: how long the species keeps, where it lay."""
        if self.estimate is None:
            return () if self.cannot is None else (self.cannot,)
        return (self.estimate.longevity.why, *self.history.notes)

    def day(self, on: dt.date) -> int:
        """The day of storage that a date is; 0 for one before it began."""
        return max(0, (on - self.stored_on).days)

    def on(self, on: dt.date) -> ViabilityOn | None:
        """The median, the 90 % band and the chance of being above the standard on a day."""
        return None if self.estimate is None else self.estimate.on(self.day(on))

    def over(self, dates: Iterable[dt.date]) -> list[ViabilityOn]:
        """The same for several days; nothing for a lot that cannot be predicted."""
        if self.estimate is None:
            return []
        return self.estimate.over([self.day(on) for on in dates])

    def falls_on(self, chance: float) -> dt.date | None:
        """The day on which the chance falls to a level; None when no calendar holds it."""
        if self.estimate is None:
            return None
        days = self.estimate.day_chance_falls_to(chance)
        latest = (dt.date.max - self.stored_on).days
        return None if days > latest else self.stored_on + dt.timedelta(days=int(days))


def estimate_of(
    lot: Lot,
    *,
    on: dt.date | None = None,
    rules: BenchRules | None = None,
    tree: PlaceTree | None = None,
    tests: Sequence[CountedTest] | None = None,
) -> LotViability:
    """What is known of a lot's viability, computed now from its storage until ``on`` (today)
    and from its tests.

    Give ``rules`` and ``tree`` when asking about many lots, ``tests`` when they are read.
    """
    rules = rules or BenchRules.current()
    _with_figures(lot)
    until = on or timezone.localdate()
    counted = counted_tests(lot) if tests is None else tests
    known = known_of(lot, until=until, rules=rules, tests=counted, tree=tree)
    return known if known.cannot else replace(known, estimate=_estimate(lot, known))


def known_of(
    lot: Lot,
    *,
    until: dt.date,
    rules: BenchRules,
    tests: Iterable[CountedTest],
    tree: PlaceTree | None = None,
) -> LotViability:
    """All that goes into a lot's estimate, not yet computed."""
    return LotViability(
        history=history_of(lot, until=until, tree=tree),
        tests=tuple(test for test in tests if test.agrees),
        standard=rules.standard_percent / 100,
        cannot=why_unpredicted(lot),
    )


def _estimate(lot: Lot, known: LotViability) -> Estimate:
    # Here, since it takes numpy and scipy along: half a second, once in a process.
    from library.science.posterior import estimate_from

    record = lot_record(known.history, known.tests, model_of(lot.variety.crop.species))
    return estimate_from(record, standard=known.standard)


def lot_record(
    history: StorageHistory, tests: Iterable[CountedTest], model: Longevity
) -> LotRecord:
    """A lot's storage and tests as its estimate takes them."""
    return LotRecord(
        longevity=model,
        curve=model.expected_loss(history.stretches),
        tests=[
            LotTest(
                day=(test.on - history.stored_on).days,
                germinated=test.germinated,
                sown=test.sown,
            )
            for test in tests
        ],
    )


def counted_tests(lot: Lot) -> list[CountedTest]:
    """The lot's tests that stand, oldest first; those whose dishes disagree say so."""
    tests = lot.germination_tests.closed().prefetch_related("replicates")
    return [
        counted_test(test.pk, test.closed_on, dishes)
        for test in tests.order_by("closed_on", "pk")
        if test.closed_on and (dishes := list(test.replicates.all()))
    ]


def counted_test(key: int, on: dt.date, dishes: Sequence[Dish]) -> CountedTest:
    """A closed test of at least one dish, as evidence."""
    germinated, sown = sum(dish.normal for dish in dishes), sum(dish.seeds for dish in dishes)
    check = agreement_of(dishes)
    if check is None:
        return CountedTest(key, on, germinated, sown)
    return CountedTest(
        key,
        on,
        germinated,
        sown,
        check.agree,
        check.range_percent,
        check.tolerated_percent,
    )


def _with_figures(lot: Lot) -> None:
    """Read the figures of the lot's species, unless they are there."""
    prefetch_related_objects([lot], "variety__crop__species__figures")


def why_unpredicted(lot: Lot) -> Reason | None:
    """Why the equation of dry seed says nothing of a lot; None when it does.

    Source of the second: Roberts 1973; Ellis, Hong & Roberts 1990 (from memory).
    """
    if lot.counted_as != CountedAs.SEED:
        return because("unpredicted_clonal", COMMON_PRACTICE)
    behaviour = storage_behaviour(lot)
    if keeps_dry(behaviour):
        return None
    source = figures_of(lot)[Quantity.STORAGE_BEHAVIOUR].source
    return because("unpredicted_behaviour", source, storage_behaviour=behaviour)


def storage_behaviour(lot: Lot) -> str:
    """How the species' seed takes to drying and cold; empty where nobody says."""
    figure = figures_of(lot).get(Quantity.STORAGE_BEHAVIOUR)
    return figure.text.strip().lower() if figure else ""


def model_of(species: Species) -> Longevity:
    """How fast the species' seed dies, from what is published of it.

    Reads its figures and constants; fetch them first when asking about many.
    """
    figures = {figure.quantity: figure for figure in species.figures.all()}
    years = figures.get(Quantity.LONGEVITY_YEARS)
    return longevity_of(
        constants=_constants(species),
        longevity_years=float(years.number) if years and years.number else None,
        oil_percent=oil_percent(family=species.family, botanical_name=species.botanical_name),
        longevity_source=years.source if years and years.number else "",
    )


def _constants(species: Species) -> Constants | None:
    row: ViabilityConstants | None = getattr(species, "viability_constants", None)
    if row is None:
        return None
    return Constants(ke=row.ke, cw=row.cw, ch=row.ch, cq=row.cq, source=row.source)
