"""What is known of many lots, read in a few queries and computed together."""

from __future__ import annotations

import datetime as dt
import logging
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.db.models import prefetch_related_objects

from library.catalogue.models import Species, Variety
from library.germination.dates import dates_of, has_lapsed, is_held, lot_estimate, next_test
from library.germination.estimates import (
    CountedTest,
    LotViability,
    counted_test,
    known_of,
    lot_record,
    model_of,
)
from library.germination.models import (
    BenchRules,
    GerminationTest,
    LotEstimate,
    PlannedSowing,
    Recompute,
    Replicate,
    TestDate,
)
from library.science.longevity import Longevity
from library.science.outlook import LotDates, Outlook, outlooks
from library.science.posterior import LotRecord
from library.stock.models import Lot, Origin
from library.stock.places import PlaceTree

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Stamp:
    """When a lot's test day and estimate were set: with another one, somebody settled it."""

    set_at: dt.datetime | None = None
    computed_at: dt.datetime | None = None


class Estimated(NamedTuple):
    """What matters of an estimate that was kept."""

    computed_at: dt.datetime
    decided: str
    evidence: list[list[int]]


@dataclass(frozen=True)
class Found:
    """What was found of one lot, not yet kept, and what had been kept of it."""

    lot: Lot
    is_held: bool
    is_hold_changed: bool
    date: TestDate
    estimate: LotEstimate | None
    was_date: TestDate | None
    was_estimate: Estimated | None

    @property
    def stamp(self) -> Stamp:
        return Stamp(
            self.was_date.set_at if self.was_date else None,
            self.was_estimate.computed_at if self.was_estimate else None,
        )

    @property
    def has_moved(self) -> bool:
        """Whether its test day is another one than before."""
        return self.was_date is not None and self.was_date.due_on != self.date.due_on

    @property
    def is_new_date(self) -> bool:
        """Whether its test day, or anything of the reason for it, is not what is kept."""
        return self.was_date is None or _said_by(self.was_date) != _said_by(self.date)

    @property
    def is_decision_lapsed(self) -> bool:
        """Whether other tests stand than when it was decided what becomes of the lot."""
        return has_lapsed(self.was_estimate, self.estimate)


def _said_by(date: TestDate) -> tuple[Any, ...]:
    return date.kind, date.due_on, date.rule, date.inputs, date.source


@dataclass(frozen=True)
class Known:
    """One lot, its tests, and all that decides its test day but the estimate."""

    lot: Lot
    tests: Sequence[CountedTest]
    viability: LotViability
    dates: LotDates
    record: LotRecord | None  # none of a lot that nothing can predict


class Shelf:
    """Lots as they are on a day: rules, places and species are read once for all of them."""

    def __init__(self, on: dt.date) -> None:
        self.on = on
        self.rules = BenchRules.current()
        self.tree = PlaceTree()
        self.species = {
            one.pk: one
            for one in Species.objects.select_related("viability_constants").prefetch_related(
                "figures"
            )
        }
        self._models: dict[int, Longevity] = {}
        self._varieties: dict[int, Variety] = {}

    def next_lots(self, round_: Recompute, how_many: int, *, from_end: bool) -> list[Lot]:
        """The next lots with seed of a round, in the order of their keys or against it."""
        lots = Lot.objects.with_seed().filter(pk__gt=round_.after)
        if round_.before is not None:
            lots = lots.filter(pk__lt=round_.before)
        lots = lots.order_by("-pk" if from_end else "pk").prefetch_related("keepings")
        found = list(lots[:how_many])
        bulked = [lot for lot in found if lot.origin == Origin.BULK]
        prefetch_related_objects(bulked, "parent_links__parent__keepings")
        new = {lot.variety_id for lot in found} - set(self._varieties)
        if new:
            self._varieties |= Variety.objects.select_related("crop").in_bulk(new)
        for lot in found:
            lot.variety = self._varieties[lot.variety_id]
            lot.variety.crop.species = self.species[lot.variety.crop.species_id]
        return found

    def known_of(self, lots: Sequence[Lot]) -> list[Known]:
        """What is known of lots read elsewhere; not of one whose record cannot be."""
        prefetch_related_objects(lots, "keepings")
        bulked = [lot for lot in lots if lot.origin == Origin.BULK]
        prefetch_related_objects(bulked, "parent_links__parent__keepings")
        for lot in lots:
            lot.variety.crop.species = self.species[lot.variety.crop.species_id]
        return self._known(lots)

    def found_of(self, lots: Sequence[Lot]) -> list[Found]:
        """What settling each of the lots would keep."""
        keys = [lot.pk for lot in lots]
        dates = {row.lot_id: row for row in TestDate.objects.filter(lot__in=keys)}
        estimates = _estimates_kept(keys)
        known = self._known(lots)
        return [
            self._found(one, outlook, dates.get(one.lot.pk), estimates.get(one.lot.pk))
            for one, outlook in zip(known, self._outlooks(known), strict=True)
        ]

    def _known(self, lots: Sequence[Lot]) -> list[Known]:
        keys = [lot.pk for lot in lots]
        tests, sowings = _tests_of(keys), _sowings_of(keys, self.on)
        known = []
        for lot in lots:
            try:
                known.append(self._known_of(lot, tests[lot.pk], sowings.get(lot.pk)))
            except ValueError:  # what is recorded of it cannot be; the others go on
                log.exception("Lot %s cannot be estimated; its test day stays.", lot.number)
        return known

    def _known_of(
        self, lot: Lot, tests: Sequence[CountedTest], sowing: PlannedSowing | None
    ) -> Known:
        viability = known_of(lot, until=self.on, rules=self.rules, tests=tests, tree=self.tree)
        dates = dates_of(lot, viability, on=self.on, sowing=sowing)
        record = None if viability.cannot else self._record(lot, viability)
        return Known(lot, tests, viability, dates, record)

    def _record(self, lot: Lot, viability: LotViability) -> LotRecord:
        species = lot.variety.crop.species
        model = self._models.get(species.pk)
        if model is None:
            model = self._models[species.pk] = model_of(species)
        return lot_record(viability.history, viability.tests, model)

    def _outlooks(self, known: Iterable[Known]) -> list[Outlook | None]:
        found = outlooks(
            ((one.record, one.dates) for one in known if one.record),
            standard=self.rules.standard_percent / 100,
            level=self.rules.chance_percent / 100,
        )
        return [next(found) if one.record else None for one in known]

    def _found(
        self,
        one: Known,
        outlook: Outlook | None,
        was_date: TestDate | None,
        was_estimate: Estimated | None,
    ) -> Found:
        held = is_held(one.lot, one.tests, was_date, self.rules)
        was_held, one.lot.awaits_first_test = one.lot.awaits_first_test, held
        date = next_test(one.lot, one.tests, one.dates, self.rules, outlook)
        estimate = lot_estimate(one.lot, one.viability.tests, outlook) if outlook else None
        return Found(one.lot, held, held != was_held, date, estimate, was_date, was_estimate)


def stamps_of(keys: Sequence[int]) -> dict[int, Stamp]:
    """When each lot was last settled."""
    dates = dict(TestDate.objects.filter(lot__in=keys).values_list("lot_id", "set_at"))
    computed = dict(
        LotEstimate.objects.filter(lot__in=keys).values_list("lot_id", "computed_at")
    )
    return {key: Stamp(dates.get(key), computed.get(key)) for key in keys}


def _estimates_kept(keys: Sequence[int]) -> dict[int, Estimated]:
    rows = LotEstimate.objects.filter(lot__in=keys).values_list(
        "lot_id", "computed_at", "decided", "evidence"
    )
    return {lot: Estimated(*facts) for lot, *facts in rows}


class _Dish(NamedTuple):
    normal: int
    seeds: int


def _tests_of(keys: Sequence[int]) -> dict[int, list[CountedTest]]:
    """Each lot's tests that stand, oldest first."""
    dishes: dict[tuple[int, int, dt.date], list[_Dish]] = defaultdict(list)
    rows = (
        Replicate.objects.filter(test__lot__in=keys, test__state=GerminationTest.State.CLOSED)
        .order_by("test__closed_on", "test_id", "number")
        .values_list("test__lot_id", "test_id", "test__closed_on", "normal", "seeds")
    )
    for lot, test, closed_on, normal, seeds in rows:
        if closed_on is None:  # a constraint says that it is not
            continue
        dishes[lot, test, closed_on].append(_Dish(normal, seeds))
    tests: dict[int, list[CountedTest]] = defaultdict(list)
    for (lot, test, closed_on), counts in dishes.items():
        tests[lot].append(counted_test(test, closed_on, counts))
    return tests


def _sowings_of(keys: Sequence[int], on: dt.date) -> dict[int, PlannedSowing]:
    """The next sowing that counts on each lot."""
    ahead = PlannedSowing.objects.filter(lot__in=keys, on__gte=on).order_by("-on", "-pk")
    return {row.lot_id: row for row in ahead}
