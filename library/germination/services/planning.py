"""Planning a test, laying it out, and sowing another group."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library.errors import Conflict, NotEnough, Refused
from library.germination.few_seeds import plan_for_lot, plan_of, verdict_of
from library.germination.method import conditions_for, suggested_size
from library.germination.models import BenchRules, GerminationTest, Replicate
from library.germination.services.counts import MOST_IN_A_REPLICATE
from library.germination.services.holding import State, held
from library.science.sequential import SequentialPlan
from library.stock.models import Lot
from library.stock.services import draw_for_test
from library.stock.services.checks import day_for, fits, happened_on, whole

Kind = GerminationTest.Kind
MOST_REPLICATES = 8
PLANNED_AHEAD = dt.timedelta(days=2 * 365)
LENGTHS = {"substrate": 80, "temperature_c": 40, "directions": 400, "note": 2000}


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
    dishes = _dishes_of(lot, kind, replicates, seeds_each)
    if sum(dishes) > (left := _seeds_left(lot)):
        raise NotEnough(
            _("Lot %(lot)s has %(left)s left; the test would need %(seeds)s.")
            % {"lot": lot.number, "left": left, "seeds": sum(dishes)},
            field="seeds_each",
        )
    conditions = _conditions(lot, on, substrate, temperature_c, directions) | {"note": note}
    return write_down(lot, kind, dishes, on, by, conditions)


@transaction.atomic
def start_test(
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
    """Draw the seed and lay it out now; the counts follow."""
    day_for(lot, on)
    dishes = _dishes_of(lot, kind, replicates, seeds_each)
    conditions = _conditions(lot, on, substrate, temperature_c, directions) | {"note": note}
    test = write_down(lot, kind, dishes, on, by, conditions)
    return lay_out(test, on, by)


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
    if not_done := [group for group in groups if group.counted_on is None]:
        raise Conflict(
            _("Group %(number)s is still being counted; finish it first.")
            % {"number": not_done[0].number}
        )
    last = groups[-1]
    happened_on(on, since=last.counted_on, since_what=_("the day the last group was counted"))
    seeds = verdict_of(plan, groups).sow_next
    return _sow_group(test, last.number + 1, seeds, on, by)


def plan_and_groups(test: GerminationTest) -> tuple[SequentialPlan, list[Replicate]]:
    """The plan of a test with few seeds and the groups sown so far. Not a service."""
    plan = plan_of(test)
    if plan is None:
        raise Refused(
            _("Test %(number)s was laid out all at once; count its dishes and close it.")
            % {"number": test.pk}
        )
    return plan, list(test.replicates.all())


def write_down(
    lot: Lot, kind: str, dishes: list[int], on: dt.date, by, conditions: dict[str, Any]
) -> GerminationTest:
    """The planned test and its dishes, nothing drawn. Not a service."""
    for name, most in LENGTHS.items():
        conditions[name] = fits(conditions.get(name), field=name, most=most)
    plan = {} if kind == Kind.FIXED else _plan_fields(lot, _seeds_left(lot))
    test = GerminationTest.objects.create(
        lot=lot,
        kind=kind,
        state=State.PLANNED,
        started_on=on,
        recorded_by=by,
        **conditions,
        **plan,
    )
    Replicate.objects.bulk_create(
        Replicate(test=test, number=number, seeds=seeds)
        for number, seeds in enumerate(dishes, start=1)
    )
    return test


def lay_out(test: GerminationTest, on: dt.date, by) -> GerminationTest:
    """Draw the seed of a planned test and let it run. Not a service."""
    day_for(test.lot, on)
    if plan := plan_of(test):
        group = _sow_group(test, 1, plan.group, on, by)
        test.most_seeds = _most_seeds(test, plan, group)
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


def _most_seeds(test: GerminationTest, plan: SequentialPlan, drawn: Replicate) -> int:
    """Seed may have left since the test was planned. The draw has locked the lot's row."""
    allowed = _plan_fields(test.lot, _seeds_left(test.lot) + drawn.seeds)["most_seeds"]
    return min(plan.most, allowed)


def _plan_fields(lot: Lot, seeds: int) -> dict[str, Any]:
    rules = BenchRules.current()
    plan = plan_for_lot(seeds, rules)
    if plan is None:
        raise Refused(
            _(
                "One group of %(group)s is more than %(share)s %% of the %(left)s that lot "
                "%(lot)s has left, the most that a test may cost. Sow smaller groups or allow "
                "a larger share in the rules of the bench."
            )
            % {
                "group": rules.group_seeds,
                "share": rules.test_share_percent,
                "left": seeds,
                "lot": lot.number,
            },
            field="kind",
        )
    return {
        "good_percent": round(100 * plan.good, 1),
        "poor_percent": round(100 * plan.poor, 1),
        "risk_good_percent": rules.risk_good_percent,
        "risk_poor_percent": rules.risk_poor_percent,
        "group_seeds": plan.group,
        "most_seeds": plan.most,
    }


def _dishes_of(
    lot: Lot, kind: str, replicates: int | None, seeds_each: int | None
) -> list[int]:
    """The seeds in each dish; none yet for a test with few seeds."""
    if kind not in Kind.values:
        raise Refused(
            _("“%(kind)s” is no kind of test; say one of: %(kinds)s.")
            % {"kind": kind, "kinds": ", ".join(Kind.values)},
            field="kind",
        )
    if kind == Kind.SEQUENTIAL:
        if replicates is not None or seeds_each is not None:
            raise Refused(
                _(
                    "A test with few seeds is sown in groups of the size that the rules of the "
                    "bench say; leave the dishes out."
                ),
                field="replicates" if replicates is not None else "seeds_each",
            )
        return []
    size = suggested_size(lot)
    replicates = size.replicates if replicates is None else replicates
    seeds_each = size.seeds_each if seeds_each is None else seeds_each
    whole(replicates, field="replicates", most=MOST_REPLICATES)
    whole(seeds_each, field="seeds_each", most=MOST_IN_A_REPLICATE)
    return [seeds_each] * replicates


def _conditions(
    lot: Lot, on: dt.date, substrate: str, temperature_c: str, directions: str
) -> dict[str, Any]:
    """What was asked for, else what is published for the species."""
    published = conditions_for(lot)
    return {
        "substrate": substrate or published.substrate,
        "temperature_c": temperature_c or published.temperature_c,
        "directions": directions or published.directions,
        "first_count_on": published.first_count_on(on),
        "final_count_on": published.final_count_on(on),
    }


def _check_can_be_planned(lot: Lot, on: Any) -> None:
    if not isinstance(on, dt.date) or isinstance(on, dt.datetime):
        raise Refused(_("“%(on)s” is not a day.") % {"on": on}, field="on")
    latest = timezone.localdate() + PLANNED_AHEAD
    if on > latest:
        raise Refused(
            _("%(on)s is too far away; plan for a day up to %(latest)s.")
            % {"on": on, "latest": latest},
            field="on",
        )
    if on < lot.received_on:
        raise Refused(
            _("%(on)s is too early: the lot was received on %(received)s.")
            % {"on": on, "received": lot.received_on},
            field="on",
        )


def _seeds_left(lot: Lot) -> int:
    return Lot.objects.only("loose", "packed").get(pk=lot.pk).balance
