"""Deposits over the API: offered, received, declined and withdrawn."""

from __future__ import annotations

import pytest

from library.lending import services
from library.outbox.models import Message
from library.stock.models import Lot
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


def test_a_member_offers_seed(as_, member, variety):
    response = as_(member).post(
        "/api/deposits/",
        {"variety": variety.pk, "grams": "12.5", "growing": {"plants_gave_seed": 9}},
    )

    body = response.json()
    assert response.status_code == 201
    assert (body["state"], body["depositor"], body["grams"]) == ("proposed", "wren", "12.500")


def test_the_desk_receives_declines_and_shows_no_email(as_, deposit, desk, member):
    received = as_(desk).post(
        f"/api/deposits/{deposit.pk}/receive/",
        {"seeds": 250, "packets": 2, "seeds_each": 25},
    )
    other = services.propose_deposit(
        depositor=member, on=TODAY, variety=deposit.variety, seeds=1
    )
    declined = as_(desk).post(f"/api/deposits/{other.pk}/decline/", {"reason": "treated"})
    everything = as_(desk).get("/api/deposits/").content + received.content + declined.content

    assert received.json()["packets"] == [p.code for p in Lot.objects.get().packets.all()]
    assert declined.json()["decision_note"] == "treated"
    assert Message.objects.get().to == member.email
    assert b"@" not in everything


def test_the_desk_takes_seed_in_at_once(as_, desk, member, variety):
    response = as_(desk).post(
        "/api/deposits/",
        {
            "depositor": "wren",
            "variety": variety.pk,
            "harvest_year": 2025,
            "receive": {"seeds": 90, "packets": 2, "seeds_each": 30},
        },
    )

    lot = Lot.objects.get()
    assert response.status_code == 201
    assert (response.json()["lot"], response.json()["state"]) == (lot.number, "received")
    assert (lot.packed, lot.harvest_year) == (60, 2025)


def test_the_desk_takes_in_seed_of_a_new_name(as_, desk, variety):
    card = {"crop": variety.crop.slug, "name": "Grey Fell", "breeding_status": "landrace"}

    response = as_(desk).post("/api/deposits/", {"receive": {"seeds": 90, "new_card": card}})

    assert response.json()["variety"]["name"] == "Grey Fell"


def test_a_member_cannot_receive_what_they_offer(as_, member, variety, counts):
    before = counts()

    response = as_(member).post(
        "/api/deposits/", {"variety": variety.pk, "receive": {"seeds": 90}}
    )

    assert response.status_code == 403
    assert counts() == before


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"seeds": -1}, "seeds"),
        ({"seeds": 0}, "seeds"),
        ({"seeds": 1.5}, "seeds"),
        ({"seeds": "many"}, "seeds"),
        ({"seeds": 2**31}, "seeds"),
        ({"seeds": 10**30}, "seeds"),
        ({"grams": -1}, "grams"),
        ({"grams": "1e400"}, "grams"),
        ({"grams": "NaN"}, "grams"),
        ({"harvest_year": 2027}, "harvest_year"),
        ({"harvest_year": -5}, "harvest_year"),
        ({"harvest_year": 10**30}, "harvest_year"),
        ({"variety": 10**30}, "variety"),
        ({"variety": 999_999}, "variety"),
        ({"variety": None}, "variety"),
        ({"crop": "moonbean"}, "crop"),
        ({"growing": {"plants_gave_seed": -1}}, "plants_gave_seed"),
        ({"growing": {"plants_gave_seed": 10**30}}, "plants_gave_seed"),
        ({"growing": {"isolation": "prayer"}}, "growing"),
        ({"growing": []}, "growing"),
        ({"source_name": "a neighbour"}, "source_name"),
    ],
)
def test_an_offer_that_cannot_be_is_refused_at_its_field(
    as_, member, variety, counts, sent, field
):
    before = counts()

    response = as_(member).post("/api/deposits/", {"variety": variety.pk} | sent)

    body = response.json()
    assert response.status_code == 400
    assert body["field"].partition(".")[0] == field
    assert counts() == before


def test_another_members_offer_is_not_found(as_, deposit, other_member):
    client = as_(other_member)

    statuses = [client.get(f"/api/deposits/{deposit.pk}/").status_code] + [
        client.post(f"/api/deposits/{deposit.pk}/{action}/", {"reason": "x"}).status_code
        for action in ("receive", "decline", "withdraw")
    ]

    assert statuses == [404] * 4


def test_a_member_withdraws_their_offer(as_, deposit, member):
    response = as_(member).post(f"/api/deposits/{deposit.pk}/withdraw/")

    assert response.json()["state"] == "withdrawn"
