"""All estimates and test days of the library computed again, each day, or when it is asked for
since the rules of the bench changed.

The same functions as for one lot (`dates.settle`), some hundreds of lots at a time: what is
known of them is read in a few queries, their posteriors are computed together, outside any
transaction, and what came out is written in one short one, with the place to go on from. Killed
at any moment, it goes on there. Whoever settles a lot meanwhile knows better and has the last
word.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from library.germination.dates import keep_estimates, keep_test_dates, settle
from library.germination.many import Found, Shelf, stamps_of
from library.germination.models import LotEstimate, Recompute
from library.stock.models import Lot

BATCH = 512  # lots: two chunks of posteriors, and writers wait a tenth of a second

Progress = Callable[["Recomputed"], None]
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Recomputed:
    """How far the round of a day is: lots done of all that have seed, test days that moved."""

    on: dt.date | None
    lots: int
    total: int
    moved: int
    finished: bool


def recompute(
    *,
    on: dt.date,
    again: bool = False,
    from_end: bool = False,
    batch: int = BATCH,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Recomputed:
    """Compute the estimate and the test day of every lot that has seed, as of a day.

    Goes on where the round of that day was cut short; does nothing when it is over, unless
    somebody asked for it since, or ``again`` is given. ``from_end`` is for a second process,
    which works its way towards the first. ``progress`` is told after each batch; ``stop`` is
    asked before each.
    """
    if (before := Recompute.current()).is_over(on) and not again:
        return _so_far(before)
    so_far, shelf = _begin(on, again), Shelf(on)
    while not so_far.finished and not (stop and stop()):
        so_far = _step(shelf, batch, from_end)
        if progress:
            progress(so_far)
    return so_far


@transaction.atomic
def ask_recompute(*, by) -> Recompute:
    """Have all test days computed again soon, not only tonight."""
    round_ = _locked()
    round_.asked_at, round_.asked_by = timezone.now(), by
    round_.save()
    return round_


@transaction.atomic
def _begin(on: dt.date, again: bool) -> Recomputed:
    round_ = _locked()
    if again or round_.is_asked_for or round_.on != on:
        round_.begin(on, Lot.objects.with_seed().count())
    return _so_far(round_)


def _step(shelf: Shelf, batch: int, from_end: bool) -> Recomputed:
    """The next lots of the round: read and computed first, then written in one go."""
    was = Recompute.current()
    lots = shelf.next_lots(was, batch, from_end=from_end)
    if not lots:
        return _finish()
    found = shelf.found_of(lots)
    with transaction.atomic():
        round_ = _locked()
        end = "before" if from_end else "after"
        if round_.on != shelf.on or getattr(round_, end) != getattr(was, end):
            return _so_far(round_)  # somebody else did them
        found = [one for one in found if round_.has_to_do(one.lot.pk)]
        busy = _write(found)
        setattr(round_, end, lots[-1].pk)
        round_.lots += len(found)
        round_.moved += sum(one.has_moved for one in found)
        round_.save()
    for lot in busy:
        with transaction.atomic():
            settle(lot, on=shelf.on)
    return _so_far(round_)


def _write(found: Sequence[Found]) -> list[Lot]:
    """Keep what was found of lots that nobody settled since they were read. Gives those that
    somebody is at work on now, to be settled one by one when they let go.
    """
    keys = [one.lot.pk for one in found]
    unlocked = Lot.objects.select_for_update(no_key=True, skip_locked=True)
    free = set(unlocked.filter(pk__in=keys).values_list("pk", flat=True))
    stamps = stamps_of(keys)
    _keep([one for one in found if one.lot.pk in free and one.stamp == stamps[one.lot.pk]])
    return [one.lot for one in found if one.lot.pk not in free]


def _keep(found: Sequence[Found]) -> None:
    keep_test_dates([one.date for one in found if one.is_new_date])
    keep_estimates([one.estimate for one in found if one.estimate])
    unpredicted = [one.lot.pk for one in found if one.was_estimate and not one.estimate]
    LotEstimate.objects.filter(lot__in=unpredicted).delete()
    lapsed = [one.lot.pk for one in found if one.is_decision_lapsed]
    LotEstimate.objects.filter(lot__in=lapsed).update(decided="")
    for held in (True, False):
        changed = [o.lot.pk for o in found if o.is_hold_changed and o.is_held is held]
        Lot.objects.filter(pk__in=changed).update(awaits_first_test=held)


def _finish() -> Recomputed:
    with transaction.atomic():
        round_ = _locked()
        round_.finished_at = round_.finished_at or timezone.now()
        round_.save()
    return _so_far(round_)


def _locked() -> Recompute:
    Recompute.objects.get_or_create(pk=1)
    return Recompute.objects.select_for_update().get(pk=1)


def _so_far(round_: Recompute) -> Recomputed:
    over = round_.finished_at is not None
    return Recomputed(round_.on, round_.lots, round_.total, round_.moved, over)
