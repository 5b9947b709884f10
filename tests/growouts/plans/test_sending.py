"""Offers are sent from a plan, and the next plan keeps them."""

from __future__ import annotations

import pytest

from accounts.models import Garden
from library.errors import Conflict
from library.growouts.models import Commitment, Plan
from library.growouts.plans.reading import PlanReading
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan, pin, send_offers, unpin
from library.stock.models import Lot
from tests.growouts.checking import check_plan
from tests.growouts.conftest import TODAY
from tests.growouts.plans.conftest import given, worked_out

pytestmark = pytest.mark.django_db


def test_offers_are_sent_once_for_each_pair(season, offered, coordinator):
    plan = worked_out(season, coordinator)

    sent = send_offers(plan=plan, on=TODAY, by=coordinator)
    again = send_offers(plan=plan, on=TODAY, by=coordinator)

    assert len(sent) == plan.pairs.count()
    assert again == []
    assert Commitment.objects.waiting().count() == len(sent)


def test_one_offer_that_cannot_be_sent_keeps_no_other_back(
    season, offered, varieties, coordinator
):
    plan = worked_out(season, coordinator)
    Lot.objects.filter(variety=varieties["bean"]).update(withheld_reason="crossed")
    beans = plan.pairs.filter(variety=varieties["bean"])

    sent = send_offers(plan=plan, on=TODAY, by=coordinator)

    assert len(sent) == plan.pairs.count() - beans.count()
    assert len(sent.refused) == beans.count()
    assert "No seed of Tarn Kettle is here" in sent.refused[0]
    with pytest.raises(Conflict, match="No seed of Tarn Kettle"):
        send_offers(plan=plan, on=TODAY, by=coordinator, pairs=beans)


def test_what_cannot_be_sown_takes_nobodys_room(season, offered, varieties, coordinator):
    Lot.objects.filter(variety=varieties["bean"]).update(withheld_reason="crossed")

    plan = worked_out(season, coordinator)

    (left,) = plan.left_out.all()
    assert (left.variety, left.why) == (varieties["bean"], {"no_seed": True})
    assert PlanReading(plan).left_out[0].obstacles == [
        "no seed of it is here that could be sown"
    ]
    assert PlanReading(plan).unknown[-1].startswith("1 variety without seed here is counted in")
    assert check_plan(plan) == []


def test_a_plan_after_offers_keeps_what_was_offered(season, offered, coordinator):
    first = worked_out(season, coordinator)
    send_offers(plan=first, on=TODAY, by=coordinator)

    second = worked_out(season, coordinator)

    assert {(p.variety_id, p.garden_id) for p in first.pairs.all()} <= {
        (p.variety_id, p.garden_id) for p in second.pairs.all()
    }


def test_unpinning_frees_the_next_plan(season, offered, varieties, coordinator):
    held = pin(season=season, variety=varieties["bean"], garden=offered[0].garden,
               kind="keep", by=coordinator)  # fmt: skip

    unpin(pin=held, by=coordinator)

    assert given(season).pinned == frozenset()


def test_a_garden_that_was_removed_meanwhile_is_left_out(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    plan = claim_next(worker="w")
    Garden.objects.filter(pk=offered[0].garden_id).delete()

    work_on(plan)
    plan.refresh_from_db()

    assert plan.state == Plan.State.DONE
    assert offered[0].garden_id not in plan.pairs.values_list("garden", flat=True)
