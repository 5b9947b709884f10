"""Planning a test, laying it out, and sowing another group."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library.errors import Conflict, NotEnough, Refused
from library.germination.few_seeds import most_of, plan_for_lot, plan_of, verdict_of
from library.germination.method import conditions_for, suggested_size
from library.germination.models import BenchRules, GerminationTest, Replicate
from library.germination.services.counts import MOST_IN_A_REPLICATE
from library.germination.services.holding import State, held
from library.science.sequential import SequentialPlan
from library.stock.models import Lot
from library.stock.services import draw_for_test
from library.stock.services.checks import (
    day_for,
    day_here,
    fits,
    happened_on,
    in_words,
    kept_here,
    whole,
)

Kind = GerminationTest.Kind
MOST_REPLICATES = 8
PLANNED_AHEAD = dt.timedelta(days=2 * 365)


@transaction.atomic
def plan_test(
    *,
    lot: Lot,
    on: dt.date,
    by,
    kind: str = Kind.FIXED,
    replicates: int | None = None,
    seeds_each: int | None = None,
    substrate: str = "",
    temperature_c: str = "",
    directions: str = "",
    note: str = "",
) -> GerminationTest:
    """Write a test down that is to be laid out on a day; no seed is drawn yet.

    Conditions that are not given are the published ones. A test with few seeds has its groups
    and its risks from the rules of the bench.
    """
    _check_can_be_planned(lot, on)
    published = conditions_for(lot)
    return write_down(
        lot=lot,
        dishes=_dishes_of(lot, kind, replicates, seeds_each),
        kind=kind,
        started_on=on,
        first_count_on=published.first_count_on(on),
        final_count_on=published.final_count_on(on),
        recorded_by=by,
        substrate=substrate or published.substrate,
        temperature_c=temperature_c or published.temperature_c,
        directions=directions or published.directions,
        note=note,
    )


@transaction.atomic
def start_test(*, lot: Lot, on: dt.date, by, **plan: Any) -> GerminationTest:
    """Lay a test out at once; takes what `plan_test` takes."""
    day_here(lot, on)
    return lay_out(plan_test(lot=lot, on=on, by=by, **plan), on, by)


@transaction.atomic
def begin_test(*, test: GerminationTest, on: dt.date, by) -> GerminationTest:
    """Lay out a planned test: its seed is drawn now, of one with few seeds the first group."""
    held(test, State.PLANNED)
    return lay_out(test, on, by)


@transaction.atomic
def sow_more(*, test: GerminationTest, on: dt.date, by) -> Replicate:
    """Draw and sow the next group of a test with few seeds."""
    held(test, State.RUNNING)
    plan, groups = plan_and_groups(test)
    last = groups[-1]
    if last.counted_on is None:
        raise Conflict(
            _("Group %(number)s is still being counted; finish it first.")
            % {"number": last.number}
        )
    happened_on(on, since=last.counted_on, since_what=_("the day the last group was counted"))
    seeds = verdict_of(plan, groups).sow_next
    return _sow_group(test, last.number + 1, seeds, on, by)


def plan_and_groups(test: GerminationTest) -> tuple[SequentialPlan, list[Replicate]]:
    """The plan of a test with few seeds, and the groups sown so far. Not a service."""
    plan = plan_of(test)
    if plan is None:
        raise Refused(
            _("Test %(number)s was laid out all at once; count its dishes and close it.")
            % {"number": test.pk}
        )
    return plan, list(test.replicates.all())


def write_down(*, lot: Lot, dishes: list[int], kind: str, **fields: Any) -> GerminationTest:
    """A planned test and its dishes; nothing is drawn. Not a service."""
    for name in ("substrate", "temperature_c", "directions", "note"):
        about: Any = GerminationTest._meta.get_field(name)
        fields[name] = fits(fields.get(name), field=name, most=about.max_length)
    if kind == Kind.SEQUENTIAL:
        fields |= _plan_fields(lot)
    test = GerminationTest.objects.create(lot=lot, kind=kind, state=State.PLANNED, **fields)
    Replicate.objects.bulk_create(
        Replicate(test=test, number=number, seeds=seeds)
        for number, seeds in enumerate(dishes, start=1)
    )
    return test


def lay_out(test: GerminationTest, on: dt.date, by) -> GerminationTest:
    """Draw the seed of a planned test that is held, and let it run. Not a service."""
    day_for(test.lot, on)
    if plan := plan_of(test):
        _sow_group(test, 1, plan.group, on, by)
        test.most_seeds = _most_that_is_left(test.lot, plan)
    else:
        dishes = test.replicates.all()
        seeds = sum(dish.seeds for dish in dishes)
        draw_for_test(lot=test.lot, seeds=seeds, on=on, by=by)
        dishes.update(sown_on=on)
    for name in ("first_count_on", "final_count_on"):
        if day := getattr(test, name):
            setattr(test, name, day + (on - test.started_on))
    test.state, test.started_on = State.RUNNING, on
    test.save()
    return test


def _sow_group(test: GerminationTest, number: int, seeds: int, on: dt.date, by) -> Replicate:
    draw_for_test(lot=test.lot, seeds=seeds, on=on, by=by)
    return Replicate.objects.create(test=test, number=number, seeds=seeds, sown_on=on)


def _most_that_is_left(lot: Lot, plan: SequentialPlan) -> int:
    """What the test may cost now: seed may have left the lot since it was planned.

    Asked when the first group was drawn, for that has locked the lot's row.
    """
    rules, seeds = BenchRules.current(), _seeds_left(lot) + plan.group
    most = min(plan.most, most_of(seeds, rules))
    if most < plan.group:
        raise _too_few(lot, plan.group, seeds, rules)
    return most


def _plan_fields(lot: Lot) -> dict[str, Any]:
    rules, seeds = BenchRules.current(), _seeds_left(lot)
    plan = plan_for_lot(seeds, rules)
    if plan is None:
        raise _too_few(lot, rules.group_seeds, seeds, rules)
    return {
        "good_percent": round(100 * plan.good, 1),
        "poor_percent": round(100 * plan.poor, 1),
        "risk_good_percent": rules.risk_good_percent,
        "risk_poor_percent": rules.risk_poor_percent,
        "group_seeds": plan.group,
        "most_seeds": plan.most,
    }


def _too_few(lot: Lot, group: int, seeds: int, rules: BenchRules) -> Refused:
    return Refused(
        _(
            "One group of %(group)s is more than %(share)s %% of the %(seeds)s that lot "
            "%(lot)s has left, the most that such a test may cost. Sow smaller groups or allow "
            "a larger share in the rules of the bench."
        )
        % {
            "group": group,
            "share": rules.test_share_percent,
            "seeds": seeds,
            "lot": lot.number,
        },
        field="kind",
    )


def _dishes_of(
    lot: Lot, kind: str, replicates: int | None, seeds_each: int | None
) -> list[int]:
    """The seeds in each dish, no more than are left; none yet for a test with few seeds."""
    if kind not in Kind.values:
        raise Refused(
            _("“%(kind)s” is no kind of test; say one of: %(kinds)s.")
            % {"kind": kind, "kinds": ", ".join(Kind.values)},
            field="kind",
        )
    if kind == Kind.SEQUENTIAL:
        _check_not_sized(replicates=replicates, seeds_each=seeds_each)
        return []
    size = suggested_size(lot)
    replicates = size.replicates if replicates is None else replicates
    seeds_each = size.seeds_each if seeds_each is None else seeds_each
    whole(replicates, field="replicates", most=MOST_REPLICATES)
    whole(seeds_each, field="seeds_each", most=MOST_IN_A_REPLICATE)
    _check_there(lot, replicates * seeds_each)
    return [seeds_each] * replicates


def _check_not_sized(**sizes: int | None) -> None:
    for name, size in sizes.items():
        if size is not None:
            raise Refused(
                _(
                    "A test with few seeds is sown in groups of the size that the rules of the "
                    "bench say; leave the dishes out."
                ),
                field=name,
            )


def _check_there(lot: Lot, seeds: int) -> None:
    """For a clear word in time; the draw decides."""
    left = _seeds_left(lot)
    if seeds > left:
        raise NotEnough(
            _("Lot %(lot)s has %(left)s left; the test would need %(seeds)s.")
            % {"lot": lot.number, "left": left, "seeds": seeds},
            field="seeds_each",
        )


def _check_can_be_planned(lot: Lot, on: Any) -> None:
    """A day that can have been, or one to come that is not a slip of the pen."""
    kept_here(lot)
    today = timezone.localdate()
    if not isinstance(on, dt.date) or isinstance(on, dt.datetime) or on <= today:
        day_for(lot, on)
    elif on > today + PLANNED_AHEAD:
        raise Refused(
            _("%(on)s is too far away; plan for a day up to %(latest)s.")
            % {"on": in_words(on), "latest": in_words(today + PLANNED_AHEAD)},
            field="on",
        )


def _seeds_left(lot: Lot) -> int:
    return Lot.objects.only("loose", "packed").get(pk=lot.pk).balance
