"""A garden with its list; the valley is that of the grow-outs."""

from __future__ import annotations

import pytest

from library.household.services import saving
from tests.growouts.conftest import (  # noqa: F401  (fixtures)
    as_,
    count_queries,
    february,
    make_commitment,
    make_garden,
    make_planting,
    season,
    valley,
)

YEAR = 2026


@pytest.fixture
def garden(member, make_garden):  # noqa: F811
    return make_garden(
        member,
        name="Mill Lane plot",
        last_spring_frost="05-10",
        first_autumn_frost="10-05",
        is_default=True,
    )


@pytest.fixture
def plan(garden, member):
    return saving.make_plan(garden=garden, year=YEAR, by=member, room_m2=40)


@pytest.fixture
def put(plan, member):
    """``put(variety, technique="bag")`` puts it on the list."""

    def put_on(variety, *, on=None, **facts):
        on = on or plan
        (choice,) = saving.add_varieties(plan=on, varieties=[variety], by=member)
        return saving.change_choice(choice=choice, by=member, **facts) if facts else choice

    return put_on


@pytest.fixture
def make_home_lot(make_lot, member):
    """``make_home_lot(variety, harvest_year=2025)``: a lot that the member keeps at home."""

    def make(variety, **facts):
        return make_lot(variety, custodian=member, **{"harvest_year": 2025} | facts)

    return make
