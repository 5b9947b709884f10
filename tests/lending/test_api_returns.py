"""Returns over the API: announced and received."""

from __future__ import annotations

import pytest

from library.lending import services
from library.stock.models import Lot
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def announced(loan, member):
    return services.announce_return(
        member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026, seeds=400
    )


def test_a_member_announces_a_return(as_, loan, member):
    response = as_(member).post(
        "/api/returns/",
        {"loans": [loan.pk], "harvest_year": 2026, "growing": {"plants_gave_seed": 12}},
    )

    body = response.json()
    assert response.status_code == 201
    assert (body["loans"], body["growing"]["plants_gave_seed"]) == ([loan.pk], 12)


def test_the_desk_receives_a_return_twice_asked_once(as_, announced, desk):
    sent = {"data": {"seeds": 380}, "headers": {"Idempotency-Key": "two"}}
    place = f"/api/returns/{announced.pk}/receive/"

    first = as_(desk).post(place, **sent)
    again = as_(desk).post(place, **sent)

    assert (first.status_code, first.json()) == (201, again.json())
    assert Lot.objects.filter(origin="return").count() == 1


def test_the_desk_takes_a_return_in_at_once(as_, loan, desk):
    response = as_(desk).post(
        "/api/returns/",
        {"loans": [loan.pk], "harvest_year": 2026, "receive": {"grams": "30.7"}},
    )

    assert response.json()["state"] == "received"
    assert Lot.objects.get(origin="return").balance == 100


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"loans": []}, "loans"),
        ({"loans": [10**30]}, "loans"),
        ({"loans": ["x"]}, "loans"),
        ({"loans": "x"}, "loans"),
        ({"harvest_year": 2025}, "harvest_year"),
        ({"harvest_year": 2027}, "harvest_year"),
        ({"harvest_year": None}, "harvest_year"),
        ({"harvest_year": "2026-04"}, "harvest_year"),
        ({"seeds": 0}, "seeds"),
        ({"seeds": 10**30}, "seeds"),
        ({"garden": 424242}, "garden"),
        ({"growing": {"plants_stood": 2, "plants_gave_seed": 3}}, "plants_gave_seed"),
    ],
)
def test_a_return_that_cannot_be_is_refused_at_its_field(
    as_, loan, member, counts, sent, field
):
    before = counts()

    response = as_(member).post(
        "/api/returns/", {"loans": [loan.pk], "harvest_year": 2026} | sent
    )

    body = response.json()
    assert response.status_code == 400
    assert body["field"].partition(".")[0] == field
    assert counts() == before


def test_another_members_loan_cannot_be_returned(as_, loan, other_member, counts):
    before = counts()

    response = as_(other_member).post(
        "/api/returns/", {"loans": [loan.pk], "harvest_year": 2026}
    )

    assert (response.status_code, response.json()["field"]) == (400, "loans")
    assert counts() == before


def test_another_members_return_is_not_found(as_, announced, other_member):
    client = as_(other_member)

    statuses = [client.get(f"/api/returns/{announced.pk}/").status_code] + [
        client.post(f"/api/returns/{announced.pk}/{action}/").status_code
        for action in ("receive", "withdraw")
    ]

    assert statuses == [404] * 3
