"""Correcting a test that is over, or setting one aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from library.errors import Conflict, Refused
from library.germination.dates import settle_test_date
from library.germination.few_seeds import set_verdict
from library.germination.models import DayCount, GerminationTest, Replicate, TestAmendment
from library.germination.services.counts import COUNTS, final_counts
from library.germination.services.holding import State, held, lock
from library.stock.services.checks import day_for, happened_on, said


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
    all_dishes = {dish.number: dish for dish in test.replicates.all()}
    amendments = [
        TestAmendment.objects.create(field=name, old_value=old, new_value=new, **note)
        for name, old, new in _amend_days(test, all_dishes, started_on, closed_on)
    ]
    for dish, counts in _amended(test, all_dishes, dishes or {}):
        dish.amendment = _amend_counts(dish, counts, note)
        amendments.append(dish.amendment)
    if not amendments:
        raise Refused(_("That is what is recorded already."))
    changed = [*COUNTS, "amendment", "sown_on", "counted_on"]
    Replicate.objects.bulk_update(all_dishes.values(), changed)
    set_verdict(test, list(all_dishes.values()))
    test.save(update_fields=["started_on", "closed_on", "verdict", "cut_off"])
    settle_test_date(test.lot)
    return amendments


Dishes = Mapping[int, Replicate]


def _amended(
    test: GerminationTest, dishes: Dishes, given: Mapping[int, Mapping[str, int]]
) -> Iterator[tuple[Replicate, dict[str, int]]]:
    """The dishes whose counts change, with their new counts."""
    for number, counted in given.items():
        if number not in dishes:
            raise Refused(
                _("Test %(test)s has no dish %(number)s; its dishes are 1 to %(last)s.")
                % {"test": test.pk, "number": number, "last": len(dishes)},
                field="dishes",
            )
        counts = final_counts(dishes[number], counted)
        if counts != _counts(dishes[number]):
            yield dishes[number], counts


def _amend_counts(
    dish: Replicate, counts: dict[str, int], note: dict[str, Any]
) -> TestAmendment:
    old = _counts(dish)
    for name, number in counts.items():
        setattr(dish, name, number)
    return TestAmendment.objects.create(
        field=f"dish {dish.number}", old_value=old, new_value=counts, **note
    )


def _counts(dish: Replicate) -> dict[str, int]:
    return {name: getattr(dish, name) for name in COUNTS}


def _amend_days(
    test: GerminationTest, dishes: Dishes, started_on: dt.date | None, closed_on: dt.date | None
) -> list[tuple[str, str, str]]:
    """Move the test's days, those of its dishes with them; what they were and what they are."""
    moved = {}
    for name, day in (("started_on", started_on), ("closed_on", closed_on)):
        if day is not None and day != getattr(test, name):
            moved[name] = (getattr(test, name), day)
            setattr(test, name, day)
    if not moved:
        return []
    day_for(test.lot, test.started_on, field="started_on")
    since_what = _("the day the test was started")
    end = happened_on(
        test.closed_on, since=test.started_on, since_what=since_what, field="closed_on"
    )
    for name, of_dish in (("started_on", "sown_on"), ("closed_on", "counted_on")):
        old, new = moved.get(name, (None, None))
        for dish in dishes.values():
            if old and getattr(dish, of_dish) == old:
                setattr(dish, of_dish, new)
    _check_between(test, dishes, end)
    return [(name, old.isoformat(), new.isoformat()) for name, (old, new) in moved.items()]


def _check_between(test: GerminationTest, dishes: Dishes, end: dt.date) -> None:
    """Whatever was sown or counted on a day of its own lies between the test's days."""
    by_day = DayCount.objects.filter(replicate__test=test).values_list("on", flat=True)
    of_dishes = [day for dish in dishes.values() for day in (dish.sown_on, dish.counted_on)]
    for day in sorted({*by_day, *filter(None, of_dishes)}):
        if not test.started_on <= day <= end:
            raise Refused(
                _("A dish was sown or counted on %(day)s, not between %(start)s and %(end)s.")
                % {"day": day, "start": test.started_on, "end": end},
                field="started_on" if day < test.started_on else "closed_on",
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
        settle_test_date(test.lot)
    return test
