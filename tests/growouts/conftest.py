"""A season in a valley, and quick ways to fill it."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Community, Garden, Member
from library.catalogue.models import Variety
from library.growouts.models import (
    Commitment,
    GardenOffer,
    GrowerOffer,
    Milestone,
    OwnPlanting,
    Season,
    WantedVariety,
)
from library.growouts.services import commitments

TODAY = dt.date(2026, 2, 10)
LATITUDE, LONGITUDE = 54.2, -2.9  # an invented valley


@pytest.fixture(autouse=True)
def february():
    """Every test of this folder happens on the morning of 10 February 2026, or travels on."""
    with time_machine.travel(dt.datetime(2026, 2, 10, 9, tzinfo=dt.UTC), tick=False) as clock:
        yield clock


@pytest.fixture
def as_(api):
    """``as_(member)`` is the API as that person sees it."""

    def person(who):
        api.force_authenticate(who)
        return api

    return person


@pytest.fixture
def count_queries(db):
    """``count_queries(lambda: client.get(page))`` is how many questions the page asks."""

    def count(ask: Callable[[], Any]) -> int:
        ask()  # what is kept in memory, as what was reckoned of a lot, is there then
        with CaptureQueriesContext(connection) as asked:
            assert ask().status_code == 200
        return len(asked)

    return count


@pytest.fixture
def valley(db) -> Community:
    """The community's frost dates: 10 May and 5 October."""
    community = Community.current()
    community.last_spring_frost, community.first_autumn_frost = "05-10", "10-05"
    community.save()
    return community


@pytest.fixture
def season(valley, coordinator) -> Season:
    return Season.objects.create(year=TODAY.year, opened_by=coordinator)


@pytest.fixture
def make_garden(db):
    """``make_garden(member, north_m=0, east_m=0)`` lies there from the middle of the valley.

    ``placed="grid"`` rounds the place as the service would.
    """
    numbers = itertools.count(1)

    def make(
        member: Member, *, north_m: float = 0, east_m: float = 0, name: str = "", **facts
    ) -> Garden:
        latitude = round(LATITUDE + north_m / 111_320, 5)
        longitude = round(LONGITUDE + east_m / (111_320 * 0.585), 5)  # cos 54.2 degrees
        if facts.get("placed") == "grid":
            latitude, longitude = round(latitude, 1), round(longitude, 1)
        given = {"placed": "exact", "latitude": latitude, "longitude": longitude} | facts
        return Garden.objects.create(
            member=member, name=name or f"plot {next(numbers)}", **given
        )

    return make


@pytest.fixture
def plot(member, make_garden):
    return make_garden(
        member, name="Mill Lane plot", last_spring_frost="05-10", first_autumn_frost="10-05"
    )


@pytest.fixture
def make_offer(season, make_garden):
    """``make_offer(member, room_m2=30)`` is their offer of one garden."""

    def make(
        member: Member, *, garden: Garden | None = None, most: int = 2, room_m2=30, **facts
    ) -> GardenOffer:
        garden = garden or make_garden(member)
        offer, _made = GrowerOffer.objects.get_or_create(
            season=season, member=member, defaults={"most": most}
        )
        return GardenOffer.objects.create(offer=offer, garden=garden, room_m2=room_m2, **facts)

    return make


@pytest.fixture
def make_wanted(season):
    def make(variety: Variety, **facts) -> WantedVariety:
        return WantedVariety.objects.create(season=season, variety=variety, **facts)

    return make


@pytest.fixture
def make_planting(db):
    def make(garden: Garden, variety: Variety, *, year: int = TODAY.year, **facts):
        return OwnPlanting.objects.create(
            garden=garden, year=year, species=variety.crop.species, variety=variety, **facts
        )

    return make


@pytest.fixture
def make_commitment(season, coordinator, make_garden):
    """``make_commitment(variety, grower, state="accepted")``; with ``steps`` its milestones:
    pairs of a kind and the day it is expected.
    """

    def make(variety: Variety, grower: Member, *, steps: tuple = (), **facts) -> Commitment:
        given = {
            "season": season,
            "garden": facts.pop("garden", None) or make_garden(grower),
            "plants": 20,
            "offered_by": coordinator,
            "answer_by": TODAY + dt.timedelta(days=14),
        } | facts
        made = Commitment.objects.create(variety=variety, grower=grower, **given)
        for number, (kind, due_on) in enumerate(steps, start=1):
            Milestone.objects.create(
                commitment=made, kind=kind, step=number, due_on=due_on, rule=f"milestone_{kind}"
            )
        return made

    return make


# A promise through the services: Tarn Kettle, in a garden of the member. ------------------
@pytest.fixture
def bean(make_variety, make_lot):
    variety = make_variety("Tarn Kettle", crop="drying bean", days_to_maturity=80)
    make_lot(variety, seeds=400, packets=4, seeds_each=20, harvest_year=2025)
    return variety


@pytest.fixture
def garden(member, make_garden):
    return make_garden(member, last_spring_frost="05-10", first_autumn_frost="10-05")


@pytest.fixture
def offer(season, coordinator, garden, bean):
    def make(variety=bean, place=garden, **facts) -> Commitment:
        facts = {"season": season, "technique": "distance", "on": TODAY} | facts
        return commitments.offer(variety=variety, garden=place, by=coordinator, **facts)

    return make


@pytest.fixture
def offered(offer) -> Commitment:
    return offer()


@pytest.fixture
def promised(offered, member) -> Commitment:
    return commitments.accept(commitment=offered, on=TODAY, by=member)
