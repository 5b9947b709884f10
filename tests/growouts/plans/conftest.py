"""A season that can be planned, and what stands for working it out."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from library.growouts.models import Plan
from library.growouts.plans.given import given_of
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan
from tests.growouts.conftest import TODAY


@pytest.fixture
def varieties(make_variety, make_lot):
    """Two courgettes that would cross, a bean, and a carrot of two years; seed of each."""
    found = {
        "round": make_variety("Round", crop="courgette", days_to_maturity=60),
        "long": make_variety("Long", crop="courgette", days_to_maturity=60),
        "bean": make_variety("Tarn Kettle", crop="drying bean", days_to_maturity=80),
        "carrot": make_variety("Scar Red", crop="carrot"),
    }
    for variety in found.values():
        make_lot(variety, seeds=3000, harvest_year=2025)
    return found


@pytest.fixture
def growers(make_member):
    return [make_member(f"grower {n}") for n in range(3)]


@pytest.fixture
def offered(varieties, growers, make_offer, make_wanted, make_garden):
    """Everything wanted; three gardens, two kilometres apart."""
    for variety in varieties.values():
        make_wanted(variety)
    return [
        make_offer(member, garden=make_garden(member, north_m=2000 * n), most=3, room_m2=400)
        for n, member in enumerate(growers)
    ]


def given(season):
    return given_of(season, on=TODAY).season


def worked_out(season, coordinator, seconds: int = 5) -> Plan:
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=seconds)
    work_on(claim_next(worker="w"))
    plan.refresh_from_db()
    return plan


def claimed(season, coordinator, worker: str = "dead") -> Plan:
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    return claim_next(worker=worker)


def silent(plan: Plan, **facts) -> None:
    long_ago = timezone.now() - dt.timedelta(minutes=5)
    Plan.objects.filter(pk=plan.pk).update(heard_at=long_ago, **facts)
