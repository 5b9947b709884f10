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
Dishes = Mapping[int, Replicate]


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
        for name, old, new in _amend_days(
            test, all_dishes, started_on=started_on, closed_on=closed_on
        )
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
    settle(test.lot)
    return amendments


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
    test: GerminationTest, dishes: Dishes, **asked: dt.date | None
) -> list[tuple[str, str, str]]:
    """Move the test's days, and those of its dishes with them; what they were and are."""
    old: dict[str, dt.date] = {name: getattr(test, name) for name in asked}
    new = {name: day for name, day in asked.items() if day is not None and day != old[name]}
    for name, day in new.items():
        setattr(test, name, day)
        for dish in dishes.values():
            if getattr(dish, OF_DISH[name]) == old[name]:
                setattr(dish, OF_DISH[name], day)
    if new:
        _check_days(test, dishes)
    return [(name, old[name].isoformat(), day.isoformat()) for name, day in new.items()]


def _check_days(test: GerminationTest, dishes: Dishes) -> None:
    """Days that were, in order, and whatever has a day of its own between them."""
    start = day_for(test.lot, test.started_on, field="started_on")
    what = _("the day the test was started")
    end = happened_on(test.closed_on, since=start, since_what=what, field="closed_on")
    by_day = DayCount.objects.filter(replicate__test=test).values_list("on", flat=True)
    of_dishes = [day for dish in dishes.values() for day in (dish.sown_on, dish.counted_on)]
    for day in sorted({*by_day, *filter(None, of_dishes)}):
        if not start <= day <= end:
            raise Refused(
                _("A dish was sown or counted on %(day)s, not between %(start)s and %(end)s.")
                % {"day": in_words(day), "start": in_words(start), "end": in_words(end)},
                field="started_on" if day < start else "closed_on",
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
