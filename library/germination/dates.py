"""The day by which a lot must be tested again, and why that day; kept with its estimate."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Protocol

from django.utils import timezone

from library.catalogue.models import CountedAs
from library.germination.estimates import (
    CountedTest,
    LotViability,
    counted_tests,
    estimate_of,
    storage_behaviour,
    why_unpredicted,
)
from library.germination.models import BenchRules, LotEstimate, PlannedSowing, TestDate
from library.germination.storage import began
from library.science.germination import TOLERANCE_SOURCE, RetestAdvice, first_test_due
from library.science.outlook import LotDates, Outlook, outlook_of
from library.science.retest import regrow_reason, retest_advice
from library.science.unpredicted import clonal_check, not_orthodox_check
from library.stock.models import Lot

DISAGREE = "replicates_disagree"
_as_of: ContextVar[dt.date | None] = ContextVar("settled_as_of", default=None)
_FIRST, _RETEST = TestDate.Kind.FIRST, TestDate.Kind.RETEST


class Decided(Protocol):
    """What was decided of a lot, and on what tests: of an estimate that was kept."""

    @property
    def decided(self) -> str: ...

    @property
    def evidence(self) -> list[list[int]]: ...


@contextmanager
def as_of(day: dt.date) -> Iterator[None]:
    """Settle what is done within as one would have on a day: for a history that is told in
    order, years later.
    """
    token = _as_of.set(day)
    try:
        yield
    finally:
        _as_of.reset(token)


def settle(lot: Lot, *, on: dt.date | None = None) -> TestDate:
    """Set the lot's estimate and the day of its next test, from the tests that stand and from
    its storage until ``on`` (today, or the day of `as_of`). Not a service of its own.

    No test stands: the first one is due, and a lot that was free is held again. The dishes of
    the newest test disagree: it is due again at once, and a held lot stays held. Else the
    estimate says the day, and the lot is free.
    """
    on = on or _as_of.get() or timezone.localdate()
    lot = _locked(lot)
    rules = BenchRules.current()
    tests = counted_tests(lot)
    was = TestDate.objects.filter(lot=lot).first()
    _hold_or_free(lot, is_held(lot, tests, was, rules))
    viability = estimate_of(lot, on=on, rules=rules, tests=tests)
    sowing = PlannedSowing.objects.to_come(on).filter(lot=lot).order_by("on", "pk").first()
    dates = dates_of(lot, viability, on=on, sowing=sowing)
    outlook = outlook_for(viability, dates, rules)
    date = next_test(lot, tests, dates, rules, outlook)
    keep_test_dates([date])
    _keep_estimate(lot, lot_estimate(lot, viability.tests, outlook) if outlook else None)
    return date


def _locked(lot: Lot) -> Lot:
    """The lot as it is; its row orders two people who change what is known of it."""
    rows = Lot.objects.select_for_update(no_key=True, of=("self",))
    return rows.select_related("variety__crop__species__viability_constants").get(pk=lot.pk)


def _keep_estimate(lot: Lot, row: LotEstimate | None) -> None:
    """Write the lot's estimate, or none where nothing can predict it."""
    before = LotEstimate.objects.filter(lot=lot).first()
    if row is None:
        LotEstimate.objects.filter(lot=lot).delete()
        return
    keep_estimates([row])
    if has_lapsed(before, row):
        LotEstimate.objects.filter(lot=lot).update(decided="")


def has_lapsed(before: Decided | None, now: LotEstimate | None) -> bool:
    """Whether what was decided of a lot is over: other tests stand now than were known then."""
    return bool(before and before.decided and now and before.evidence != now.evidence)


def keep_test_dates(rows: Sequence[TestDate]) -> None:
    """Write test days, one for each lot, in the place of what was there."""
    TestDate.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["lot"],
        update_fields=["kind", "due_on", "rule", "inputs", "source", "set_at"],
    )


def keep_estimates(rows: Sequence[LotEstimate]) -> None:
    """Write estimates, one for each lot, in the place of what was there; what was decided of a
    lot stays.
    """
    LotEstimate.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["lot"],
        update_fields=[
            "on",
            "low",
            "median",
            "high",
            "chance",
            "standard_percent",
            "regrow_rule",
            "inputs",
            "evidence",
            "computed_at",
        ],
    )


def _hold_or_free(lot: Lot, held: bool) -> None:
    if held != lot.awaits_first_test:
        Lot.objects.filter(pk=lot.pk).update(awaits_first_test=held)
        lot.awaits_first_test = held


def is_held(
    lot: Lot, tests: Sequence[CountedTest], was: TestDate | None, rules: BenchRules
) -> bool:
    """Whether the lot may not be lent until its first test says something."""
    if tests:
        return lot.awaits_first_test and not tests[-1].agrees
    was_free = was is not None and was.kind == _RETEST and rules.hold_until_tested
    return lot.awaits_first_test or was_free


def dates_of(
    lot: Lot, viability: LotViability, *, on: dt.date, sowing: PlannedSowing | None
) -> LotDates:
    """The days that matter to the lot's next test."""
    return LotDates(
        stored_on=viability.stored_on,
        received_on=lot.received_on,
        today=max(on, viability.stored_on),
        tested_on=viability.tests[-1].on if viability.tests else None,
        sowing_on=sowing.on if sowing else None,
    )


def outlook_for(viability: LotViability, dates: LotDates, rules: BenchRules) -> Outlook | None:
    """What the rule needs to know of a lot; None of one that cannot be predicted."""
    if viability.estimate is None:
        return None
    return outlook_of(viability.estimate, level=rules.chance_percent / 100, dates=dates)


def next_test(
    lot: Lot,
    tests: Sequence[CountedTest],
    dates: LotDates,
    rules: BenchRules,
    outlook: Outlook | None,
) -> TestDate:
    """The lot's next test day as a row, not yet kept."""
    if tests and not tests[-1].agrees:
        return _again_at_once(lot, tests[-1])
    kind = _RETEST if tests else _FIRST
    if outlook is None:
        advice = _unpredicted(lot, dates, rules)
    else:
        advice = retest_advice(outlook, first_within_days=rules.first_test_within_days)
    inputs = dict(advice.inputs)
    if tests:
        inputs |= {"test": tests[-1].key, "regenerate": advice.regenerate}
    return _row(lot, kind, advice.due_on, advice.rule, inputs, advice.source)


def first_test(lot: Lot, *, received_on: dt.date, rules: BenchRules) -> RetestAdvice:
    """The day of a new lot's first test, on which nobody counts yet: nothing is estimated."""
    if why_unpredicted(lot) is None:
        return first_test_due(received_on=received_on, within_days=rules.first_test_within_days)
    stored_on, _why = began(lot)
    stored_on = min(stored_on, received_on)
    dates = LotDates(stored_on=stored_on, received_on=received_on, today=received_on)
    return _unpredicted(lot, dates, rules)


def _again_at_once(lot: Lot, test: CountedTest) -> TestDate:
    inputs = {
        "tested_on": test.on.isoformat(),
        "range_percent": test.range_percent,
        "tolerated_percent": test.tolerated_percent,
    }
    kind = _FIRST if lot.awaits_first_test else _RETEST
    return _row(lot, kind, test.on, DISAGREE, inputs, TOLERANCE_SOURCE)


def _unpredicted(lot: Lot, dates: LotDates, rules: BenchRules) -> RetestAdvice:
    """The rule for plant parts, and for seed that does not keep dry."""
    facts: dict[str, Any] = {
        "received_on": dates.received_on,
        "tested_on": dates.tested_on,
        "first_within_days": rules.first_test_within_days,
    }
    if lot.counted_as != CountedAs.SEED:
        return clonal_check(stored_on=dates.stored_on, **facts)
    return not_orthodox_check(storage_behaviour=storage_behaviour(lot), **facts)


def _row(
    lot: Lot, kind: str, due_on: dt.date, rule: str, inputs: dict[str, Any], source: str
) -> TestDate:
    return TestDate(
        lot=lot,
        kind=kind,
        due_on=due_on,
        rule=rule,
        inputs=inputs,
        source=source,
        set_at=timezone.now(),
    )


def lot_estimate(lot: Lot, tests: Iterable[CountedTest], outlook: Outlook) -> LotEstimate:
    """The lot's viability today as a row, not yet kept.

    A lot that was never tested is not called one to regrow: its first test is due.
    """
    now = outlook.today
    tested = [test.record for test in tests]
    why = regrow_reason(now, initial=outlook.initial, standard=outlook.standard)
    regrow = why if tested else None
    return LotEstimate(
        lot=lot,
        on=outlook.dates.today,
        low=now.low,
        median=now.median,
        high=now.high,
        chance=min(max(now.chance_above, 0.0), 1.0),
        standard_percent=round(100 * outlook.standard),
        regrow_rule=regrow.key if regrow else "",
        inputs={**regrow.inputs, "source": regrow.source} if regrow else {},
        evidence=tested,
        computed_at=timezone.now(),
    )
