"""Correcting a test that is over, or setting one aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Conflict, Refused
from library.germination.dates import settle
from library.germination.few_seeds import set_verdict
from library.germination.models import DayCount, GerminationTest, Replicate, TestAmendment
from library.germination.services.counts import COUNTS, final_counts
from library.germination.services.holding import State, held, lock
from library.stock.services.checks import day_for, happened_on, in_words, said

OF_DISH = {"started_on": "sown_on", "closed_on": "counted_on"}


@transaction.atomic
def amend_test(
    *,
    test: GerminationTest,
    reason: str,
    by,
    dishes: Mapping[int, Mapping[str, int]] | None = None,
    started_on: dt.date | None = None,
    closed_on: dt.date | None = None,
) -> list[TestAmendment]:
    """Correct the counts of a closed test, by the numbers of its dishes, or its days.

    A count that is not given stays, but dead that is not given is the rest. The seed used stays
    used. Old and new are kept with the reason, and the lot's next day is set anew.
    """
    note = {"test": test, "reason": said(reason), "amended_by": by}
    held(test, State.CLOSED)
    all_dishes = list(test.replicates.all())
    amendments = [
        _amend_counts(dish, counts, note)
        for dish, counts in _changed_counts(test, all_dishes, dishes or {})
    ]
    days = _changed_days(test, all_dishes, started_on=started_on, closed_on=closed_on)
    amendments += [_amend_day(test, all_dishes, name, day, note) for name, day in days.items()]
    if not amendments:
        raise Refused(_("That is what is recorded already."))
    written = [*COUNTS, "amendment", "sown_on", "counted_on"]
    Replicate.objects.bulk_update(all_dishes, written)
    set_verdict(test, all_dishes)
    test.save(update_fields=["started_on", "closed_on", "verdict", "cut_off"])
    settle(test.lot)
    return amendments


def _changed_counts(
    test: GerminationTest, dishes: list[Replicate], given: Mapping[int, Mapping[str, int]]
) -> Iterator[tuple[Replicate, dict[str, int]]]:
    """The dishes whose counts change, with their new counts."""
    by_number = {dish.number: dish for dish in dishes}
    for number, counted in given.items():
        if number not in by_number:
            raise Refused(
                _("Test %(test)s has no dish %(number)s; its dishes are 1 to %(last)s.")
                % {"test": test.pk, "number": number, "last": len(dishes)},
                field="dishes",
            )
        counts = final_counts(by_number[number], counted)
        if counts != _counts(by_number[number]):
            yield by_number[number], counts


def _amend_counts(
    dish: Replicate, counts: dict[str, int], note: dict[str, Any]
) -> TestAmendment:
    dish.amendment = TestAmendment.objects.create(
        field=f"dish {dish.number}", old_value=_counts(dish), new_value=counts, **note
    )
    for name, number in counts.items():
        setattr(dish, name, number)
    return dish.amendment


def _counts(dish: Replicate) -> dict[str, int]:
    return {name: getattr(dish, name) for name in COUNTS}


def _changed_days(
    test: GerminationTest, dishes: list[Replicate], **asked: dt.date | None
) -> dict[str, dt.date]:
    """The test's days that change: days that were, in order, and round all that stays."""
    old = {name: getattr(test, name) for name in asked}
    new = {name: day for name, day in asked.items() if day is not None and day != old[name]}
    if new:
        both = old | new
        start = day_for(test.lot, both["started_on"], field="started_on")
        what = _("the day the test was started")
        end = happened_on(both["closed_on"], since=start, since_what=what, field="closed_on")
        _check_between(start, end, _days_that_stay(test, dishes))
    return new


def _days_that_stay(test: GerminationTest, dishes: list[Replicate]) -> set[dt.date]:
    """The days of counts, and of dishes that were not sown or counted with the others."""
    by_day = DayCount.objects.filter(replicate__test=test).values_list("on", flat=True)
    sown, counted = {dish.sown_on for dish in dishes}, {dish.counted_on for dish in dishes}
    own = (sown - {test.started_on}) | (counted - {test.closed_on})
    return {*by_day, *(day for day in own if day)}


def _check_between(start: dt.date, end: dt.date, days: set[dt.date]) -> None:
    for day in sorted(days):
        if not start <= day <= end:
            raise Refused(
                _("A dish was sown or counted on %(day)s, not between %(start)s and %(end)s.")
                % {"day": in_words(day), "start": in_words(start), "end": in_words(end)},
                field="started_on" if day < start else "closed_on",
            )


def _amend_day(
    test: GerminationTest,
    dishes: list[Replicate],
    name: str,
    day: dt.date,
    note: dict[str, Any],
) -> TestAmendment:
    """Move one of the test's days, and that of the dishes that share it."""
    old: dt.date = getattr(test, name)
    setattr(test, name, day)
    for dish in dishes:
        if getattr(dish, OF_DISH[name]) == old:
            setattr(dish, OF_DISH[name], day)
    return TestAmendment.objects.create(
        field=name, old_value=old.isoformat(), new_value=day.isoformat(), **note
    )


@transaction.atomic
def void_test(*, test: GerminationTest, reason: str, by) -> GerminationTest:
    """Set a test aside: dried out, mixed up, counted wrongly, or planned and not wanted.

    Seed that was drawn for it stays used.
    """
    reason = said(reason)
    lock(test)
    if test.state == State.VOID:
        raise Conflict(_("Test %(number)s is void already.") % {"number": test.pk})
    was_closed = test.state == State.CLOSED
    test.state, test.void_reason = State.VOID, reason
    test.save(update_fields=["state", "void_reason"])
    if was_closed:
        settle(test.lot)
    return test
