"""The day by which a lot must be tested again, and why that day."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils import timezone

from library.catalogue.models import SpeciesFigure
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.germination.results import TestResult, figures_of, result_of
from library.science.germination import TOLERANCE_SOURCE, first_test_due, next_retest
from library.stock.models import Lot
from library.stock.places import climate_of

DISAGREE = "replicates_disagree"


def settle_test_date(lot: Lot) -> TestDate | None:
    """Set the lot's next test day from the tests that stand. Not a service of its own.

    No test stands: the first one is due as on receipt, and the lot is held again. The dishes
    of the newest test disagree: it is due again at once, and a held lot stays held. Else the
    published rule says the day, and the lot is free.
    """
    # The lot's row orders two people who close two tests of it.
    lot = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    standing = list(lot.germination_tests.closed().with_results().order_by("closed_on", "pk"))
    if not standing:
        return _first_again(lot)
    rules = BenchRules.current()
    results = [result for test in standing if (result := result_of(test, rules=rules))]
    newest, result = standing[-1], results[-1]
    if result.replicates_agree is False:
        return _again_at_once(lot, newest, result)
    Lot.objects.filter(pk=lot.pk, awaits_first_test=True).update(awaits_first_test=False)
    believed = [r for r in results if r.replicates_agree is not False]
    return _retest(lot, newest, result, initial=believed[0])


def _first_again(lot: Lot) -> TestDate | None:
    was = TestDate.objects.filter(lot=lot).first()
    if was is None or was.kind == TestDate.Kind.FIRST:
        return was
    rules = BenchRules.current()
    advice = first_test_due(
        received_on=lot.received_on, within_days=rules.first_test_within_days
    )
    if rules.hold_until_tested:
        Lot.objects.filter(pk=lot.pk).update(awaits_first_test=True)
    return _set(
        lot, TestDate.Kind.FIRST, advice.due_on, advice.rule, advice.inputs, advice.source
    )


def _again_at_once(lot: Lot, test: GerminationTest, result: TestResult) -> TestDate:
    on = _counted_on(test)
    inputs = {
        "tested_on": on.isoformat(),
        "range_percent": result.range_percent,
        "tolerated_percent": result.tolerated_range,
    }
    kind = TestDate.Kind.FIRST if lot.awaits_first_test else TestDate.Kind.RETEST
    return _set(lot, kind, on, DISAGREE, inputs, TOLERANCE_SOURCE)


def _retest(
    lot: Lot, test: GerminationTest, result: TestResult, *, initial: TestResult
) -> TestDate:
    longevity = figures_of(test.lot).get(SpeciesFigure.Quantity.LONGEVITY_YEARS)
    advice = next_retest(
        tested_on=_counted_on(test),
        percent=round(result.exact_percent, 1),
        longevity_years=float(longevity.number) if longevity and longevity.number else None,
        frozen=climate_of(lot).is_frozen,
        initial_percent=round(initial.exact_percent, 1),
    )
    inputs = dict(advice.inputs) | {"test": test.pk, "regenerate": advice.regenerate}
    if longevity:
        inputs["longevity_source"] = longevity.source
    kind = TestDate.Kind.RETEST
    return _set(lot, kind, advice.due_on, advice.rule, inputs, advice.source)


def _counted_on(test: GerminationTest) -> date:
    """A closed test has its day; a constraint says so."""
    if test.closed_on is None:
        raise ValueError(f"test {test.pk} is not closed")
    return test.closed_on


def _set(lot: Lot, kind: str, due_on: date, rule: str, inputs: Any, source: str) -> TestDate:
    return TestDate.objects.update_or_create(
        lot=lot,
        defaults={
            "kind": kind,
            "due_on": due_on,
            "rule": rule,
            "inputs": dict(inputs),
            "source": source,
            "set_at": timezone.now(),
        },
    )[0]
