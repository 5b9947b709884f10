"""A plan is worked out, keeps every rule, and is taken up again where its worker died."""

from __future__ import annotations

import datetime as dt
import sys

import pytest
from django.utils import timezone

from library.errors import Conflict, NotAllowed, Refused
from library.growouts.models import Plan
from library.growouts.plans import running
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan, pin, stop_plan
from tests.growouts.checking import check_plan
from tests.growouts.conftest import TODAY
from tests.growouts.plans.conftest import claimed, silent, worked_out

pytestmark = pytest.mark.django_db


def test_a_plan_is_worked_out_and_keeps_every_rule(season, offered, coordinator):
    plan = worked_out(season, coordinator)

    assert plan.state == Plan.State.DONE, plan.trouble
    assert (plan.covered, plan.could_be_covered, plan.most_covered) == (4, 4, 4)
    assert plan.gap < 0.01
    assert plan.cost >= plan.bound - 1e-6
    assert set(plan.by_hand) == {"rarest_first", "everyone_first"}
    assert plan.by_hand["rarest_first"]["loss"] >= plan.loss - 1e-9
    assert check_plan(plan) == []
    assert all("saves" in pair.why for pair in plan.pairs.all())


def test_what_nobody_can_grow_is_left_out_with_the_reason(
    season, offered, coordinator, make_variety, make_lot, make_wanted
):
    late = make_variety("Late", crop="drying bean", days_to_maturity=150)
    make_lot(late, seeds=900)
    make_wanted(late)

    plan = worked_out(season, coordinator)

    (left,) = plan.left_out.all()
    assert left.variety == late
    assert left.why == {"in_the_way": {"season_too_short": 3}, "remedies": []}


def test_a_pin_is_kept_and_a_never_is_not_planned(season, offered, varieties, coordinator):
    there, not_there = offered[2].garden, offered[0].garden
    pin(season=season, variety=varieties["bean"], garden=there, kind="keep", by=coordinator)
    for garden in (not_there, offered[1].garden):
        pin(season=season, variety=varieties["round"], garden=garden, kind="never",
            by=coordinator)  # fmt: skip

    plan = worked_out(season, coordinator)

    pairs = {(p.variety_id, p.garden_id): p for p in plan.pairs.all()}
    assert pairs[varieties["bean"].pk, there.pk].pinned
    assert {g for v, g in pairs if v == varieties["round"].pk} == {there.pk}
    assert check_plan(plan) == []


def test_pins_that_clash_are_told_and_nothing_is_lost(season, offered, varieties, coordinator):
    before = worked_out(season, coordinator)
    for name in ("round", "long"):
        pin(season=season, variety=varieties[name], garden=offered[0].garden, kind="keep",
            by=coordinator)  # fmt: skip

    plan = worked_out(season, coordinator)

    ((_variety, garden, why),) = plan.trouble["clash"]
    assert (plan.state, garden, why) == (
        Plan.State.FAILED,
        f"g{offered[0].garden_id}",
        "would_cross",
    )
    assert before.pairs.exists()
    assert season.pins.count() == 2


def test_one_plan_at_a_time(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator)

    with pytest.raises(Conflict, match="worked on already"):
        ask_plan(season=season, on=TODAY, by=coordinator)


def test_there_must_be_something_to_plan(
    season, coordinator, member, make_wanted, variety, make_lot
):
    with pytest.raises(Refused, match="which varieties"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    make_wanted(variety)
    with pytest.raises(Refused, match="No seed is here"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    make_lot(variety)
    with pytest.raises(Refused, match="No garden"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    with pytest.raises(NotAllowed):
        ask_plan(season=season, on=TODAY, by=member)


def test_a_plan_whose_worker_fell_silent_is_taken_up_again(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    dead = claim_next(worker="dead")
    assert claim_next(worker="other") is None
    long_ago = timezone.now() - dt.timedelta(minutes=5)
    Plan.objects.filter(pk=dead.pk).update(heard_at=long_ago)

    again = claim_next(worker="other")
    work_on(again)
    again.refresh_from_db()

    assert (again.pk, again.state) == (dead.pk, Plan.State.DONE)


def test_who_was_taken_for_dead_writes_nothing_any_more(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    slow = claim_next(worker="slow")
    Plan.objects.filter(pk=slow.pk).update(worker="other")

    work_on(slow)
    slow.refresh_from_db()

    assert (slow.state, slow.worker) == (Plan.State.SOLVING, "other")
    assert not slow.pairs.exists()


def test_a_solver_that_is_killed_is_told(season, offered, coordinator, monkeypatch):
    monkeypatch.setattr(running, "COMMAND", [sys.executable, "-c", "import os; os.abort()"])

    plan = worked_out(season, coordinator)

    assert plan.state == Plan.State.FAILED
    assert "solver ended" in plan.trouble["failed"]


def test_machine_code_is_kept_in_the_data_folder(
    season, offered, coordinator, monkeypatch, settings
):
    """Where the program lies nothing may be written, and its user may have no home."""
    asks = "import os, sys; sys.exit(7 if os.environ['NUMBA_CACHE_DIR'] == sys.argv[1] else 1)"
    folder = str(settings.DATA_DIR / "machine-code")
    monkeypatch.setattr(running, "COMMAND", [sys.executable, "-c", asks, folder])

    plan = worked_out(season, coordinator)

    assert "ended with 7" in plan.trouble["failed"]


def test_what_killed_every_worker_is_given_up(season, offered, coordinator):
    plan = claimed(season, coordinator)
    for number in range(2):
        silent(plan)
        assert claim_next(worker=f"worker {number}").pk == plan.pk
    silent(plan)

    assert claim_next(worker="last") is None
    plan.refresh_from_db()
    assert plan.state == Plan.State.FAILED
    assert "3 times" in plan.trouble["failed"]


def test_stopped_while_its_worker_was_dead_the_best_so_far_is_the_plan(
    season, offered, varieties, coordinator
):
    plan = claimed(season, coordinator)
    pair = [f"v{varieties['bean'].pk}", f"g{offered[0].garden_id}"]
    silent(plan, best=[pair], covered=1, cost=1.0, stage="by_hand")
    stop_plan(plan=plan, by=coordinator)

    work_on(claim_next(worker="other"))

    plan.refresh_from_db()
    assert plan.state == Plan.State.STOPPED
    assert [(p.variety_id, p.garden_id) for p in plan.pairs.all()] == [
        (varieties["bean"].pk, offered[0].garden_id)
    ]


@pytest.mark.parametrize("has_best", [True, False])
def test_a_plan_that_waits_is_stopped_with_what_it_has(
    has_best, season, offered, varieties, coordinator
):
    """It was handed back by a server that stopped; or nobody began it."""
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=60)
    pair = [f"v{varieties['bean'].pk}", f"g{offered[0].garden_id}"]
    if has_best:
        Plan.objects.filter(pk=plan.pk).update(best=[pair], covered=1, cost=1.0)
    stop_plan(plan=plan, by=coordinator)

    taken = claim_next(worker="w")
    if taken is not None:
        work_on(taken)

    plan.refresh_from_db()
    assert plan.state == (Plan.State.STOPPED if has_best else Plan.State.FAILED)
    assert plan.pairs.count() == has_best


def test_the_runner_takes_up_at_once_what_it_left_when_it_was_killed(
    season, offered, coordinator
):
    plan = claimed(season, coordinator, worker="the runner")

    assert claim_next(worker="somebody else", here=()) is None
    assert claim_next(worker="the runner", here={plan.pk}) is None
    assert claim_next(worker="the runner", here=()).pk == plan.pk


def test_the_best_so_far_is_never_replaced_by_less(season, offered, coordinator):
    plan = claimed(season, coordinator)
    work = running._Work(plan)
    stage = {"name": "by_hand", "chosen": [], "bound": None}
    for covered, cost in ((3, 0.5), (2, 0.1), (3, 0.6), (3, 0.4)):
        work._hear({"stage": stage | {"covered": covered, "cost": cost}})

    assert (work.best["covered"], work.best["cost"]) == (3, 0.4)
