"""What is done at the bench: each function is one transaction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Conflict, Refused
from library.germination.dates import settle_test_date
from library.germination.models import BenchRules, GerminationTest, Replicate, TestDate
from library.germination.results import TestResult, result_of
from library.science.germination import first_test_due
from library.stock.models import Lot
from library.stock.services import draw_for_test
from library.stock.services.checks import day_for, fields_of, fits, happened_on, said, whole

__all__ = [
    "COUNTS",
    "TestResult",
    "close_test",
    "expect_first_test",
    "record_test",
    "result_of",
    "save_bench_rules",
    "start_test",
    "void_test",
]

State = GerminationTest.State
COUNTS = ("normal", "abnormal", "hard", "fresh", "dead")
MOST_REPLICATES = 8
MOST_IN_A_REPLICATE = 1000


@transaction.atomic
def expect_first_test(*, lot: Lot, on: dt.date) -> TestDate:
    """Set the day of a new lot's first test, and hold the lot until then if the rules say so.

    A lot that has its day already keeps it.
    """
    rules = BenchRules.current()
    advice = first_test_due(received_on=on, within_days=rules.first_test_within_days)
    date, new = TestDate.objects.get_or_create(
        lot=lot,
        defaults={
            "kind": TestDate.Kind.FIRST,
            "due_on": advice.due_on,
            "rule": advice.rule,
            "inputs": dict(advice.inputs),
            "source": advice.source,
        },
    )
    if new and rules.hold_until_tested:
        Lot.objects.filter(pk=lot.pk).update(awaits_first_test=True)
        lot.awaits_first_test = True
    return date


@transaction.atomic
def start_test(
    *,
    lot: Lot,
    replicates: int,
    seeds_each: int,
    on: dt.date,
    by,
    substrate: str = "",
    temperature_c: str = "",
    note: str = "",
) -> GerminationTest:
    """Draw the seed and lay it out; the counts follow when the test is closed."""
    whole(replicates, field="replicates", most=MOST_REPLICATES)
    whole(seeds_each, field="seeds_each", most=MOST_IN_A_REPLICATE)
    conditions = {"substrate": substrate, "temperature_c": temperature_c, "note": note}
    return _lay_out(lot, [seeds_each] * replicates, on, by, conditions)


def _lay_out(lot, dishes: list[int], on: dt.date, by, conditions) -> GerminationTest:
    draw_for_test(lot=lot, seeds=sum(dishes), on=on, by=by)
    test = GerminationTest.objects.create(
        lot=lot,
        started_on=on,
        recorded_by=by,
        substrate=fits(conditions["substrate"], field="substrate", most=80),
        temperature_c=fits(conditions["temperature_c"], field="temperature_c", most=40),
        note=fits(conditions["note"], field="note", most=2000),
    )
    Replicate.objects.bulk_create(
        Replicate(test=test, number=number, seeds=seeds)
        for number, seeds in enumerate(dishes, start=1)
    )
    return test


@transaction.atomic
def close_test(
    *, test: GerminationTest, replicates: Sequence[Mapping[str, Any]], on: dt.date, by
) -> GerminationTest:
    """Write down the counts of every dish, and set the day of the next test."""
    happened_on(on, since=test.started_on, since_what=_("the day the test was started"))
    if not _change_state(test, State.RUNNING, state=State.CLOSED, closed_on=on):
        raise Conflict(
            _("Test %(number)s is %(state)s, not running.")
            % {"number": test.pk, "state": test.get_state_display()}
        )
    _write_counts(list(test.replicates.all()), replicates)
    settle_test_date(test.lot)
    return test


def _change_state(test: GerminationTest, *from_states: str, **changes: Any) -> bool:
    """Change a test that is still in one of the states; the UPDATE decides."""
    still = GerminationTest.objects.filter(pk=test.pk, state__in=from_states)
    done = still.update(**changes) == 1
    test.refresh_from_db(fields=["state", "closed_on", "void_reason"])
    return done


def _write_counts(dishes: list[Replicate], counts: Sequence[Mapping[str, Any]]) -> None:
    if len(dishes) != len(counts):
        raise Refused(
            _("The test has %(dishes)s dishes, and %(counts)s were counted.")
            % {"dishes": len(dishes), "counts": len(counts)},
            field="replicates",
        )
    for dish, counted in zip(dishes, counts, strict=True):
        _check_counts(dish.number, dish.seeds, counted)
        for name in COUNTS:
            setattr(dish, name, counted.get(name, 0))
    Replicate.objects.bulk_update(dishes, COUNTS)


def _check_counts(number: int, seeds: int, counted: Mapping[str, Any]) -> None:
    """Refuse counts of a dish that cannot be."""
    if unknown := set(counted) - {"seeds", *COUNTS}:
        raise Refused(
            _("A dish has no count called %(name)s.") % {"name": min(unknown)},
            field="replicates",
        )
    for name in COUNTS:
        whole(counted.get(name, 0), field="replicates", least=0, most=MOST_IN_A_REPLICATE)
    said_sown = counted.get("seeds", seeds)
    if said_sown != seeds:
        raise Refused(
            _("Dish %(number)s was sown with %(seeds)s, not %(said)s.")
            % {"number": number, "seeds": seeds, "said": said_sown},
            field="replicates",
        )
    total = sum(counted.get(name, 0) for name in COUNTS)
    if total > seeds:
        raise Refused(
            _("Dish %(number)s was sown with %(seeds)s, but %(total)s were counted.")
            % {"number": number, "seeds": seeds, "total": total},
            field="replicates",
        )


@transaction.atomic
def record_test(
    *,
    lot: Lot,
    replicates: Sequence[Mapping[str, Any]],
    started_on: dt.date,
    closed_on: dt.date,
    by,
    substrate: str = "",
    temperature_c: str = "",
    note: str = "",
) -> GerminationTest:
    """Write down a test that is over: draws its seed, counts it, sets the next day."""
    whole(len(replicates), field="replicates", most=MOST_REPLICATES)
    day_for(lot, started_on, field="started_on")
    dishes = [
        whole(dish.get("seeds"), field="replicates", most=MOST_IN_A_REPLICATE)
        for dish in replicates
    ]
    conditions = {"substrate": substrate, "temperature_c": temperature_c, "note": note}
    test = _lay_out(lot, dishes, started_on, by, conditions)
    return close_test(test=test, replicates=replicates, on=closed_on, by=by)


@transaction.atomic
def void_test(*, test: GerminationTest, reason: str, by) -> GerminationTest:
    """Set a test aside: dried out, mixed up, counted wrongly. Its seed stays used."""
    reason = said(reason)
    changed = _change_state(
        test, State.RUNNING, State.CLOSED, state=State.VOID, void_reason=reason
    )
    if not changed:
        raise Conflict(_("Test %(number)s is void already.") % {"number": test.pk})
    settle_test_date(test.lot)
    return test


@transaction.atomic
def save_bench_rules(
    *, standard_percent: int, first_test_within_days: int, hold_until_tested: bool, by
) -> BenchRules:
    """The library's own standard, and how soon a new lot is tested."""
    rules = BenchRules.current()
    rules.standard_percent = whole(standard_percent, field="standard_percent", most=100)
    rules.first_test_within_days = whole(
        first_test_within_days, field="first_test_within_days", most=365
    )
    rules.hold_until_tested = hold_until_tested
    fields_of(rules, names=["standard_percent", "first_test_within_days"])
    rules.save()
    return rules
