"""Two gardens 80 m apart: only coordinators read that something was too near."""

from __future__ import annotations

import re

import pytest
from django.urls import NoReverseMatch, reverse

from accounts.models import Garden
from library.stock import services as stock
from tests.pages import text_of
from tests.provenance.conftest import NORTH_M

pytestmark = pytest.mark.usefixtures("november")
PLAIN = "Another planting of the species that the library knows of was nearer than is needed."
PAGES = ["lot", "lot-off-types", "lot-chain", "lot-chain-picture", "lot-chain-measures"]
ENDPOINTS = ["api-lot-purity", "api-lot-ancestors", "api-lot-chain-measures", "api-lot-prov"]
TOKEN = re.compile(r'value="\w{64}"|nonce-[^\x27"]+')  # against forgery: new each time
READERS = ["anybody", "member", "desk"]


@pytest.fixture
def lot(crowded):
    lot = crowded()
    stock.pack(lot=lot, packets=1, seeds_each=20, on=lot.received_on, by=None)
    return lot


@pytest.fixture
def reading(client, member, desk):
    def read(who: str, lot) -> dict[str, str]:
        if who != "anybody":
            client.force_login({"member": member, "desk": desk}[who])
        addresses = [lot.packets.get().get_absolute_url(), f"/api/lots/{lot.number}/"]
        for name in PAGES + ENDPOINTS:
            try:
                addresses.append(reverse(name, args=[lot.number]))
            except NoReverseMatch:
                continue  # not built yet
        if who != "anybody":
            addresses.append(f"/loans/new/?packet={lot.packets.get().code}")
        return {address: body(client.get(address)) for address in addresses}

    return read


def body(response) -> str:
    assert response.status_code == 200
    return text_of(response)


@pytest.mark.parametrize("who", READERS)
def test_the_neighbour_is_told_to_nobody_but_coordinators(who, lot, reading):
    neighbour = Garden.objects.get(name="Lower Beck plot")
    secrets = [
        "Ford Pumpkin",
        neighbour.member.display_name,
        neighbour.name,
        lot.growing.garden.name,
        *(str(garden.latitude) for garden in Garden.objects.all()),
        "54.40",
    ]

    read = reading(who, lot)

    for address, text in read.items():
        assert [secret for secret in secrets if secret in text] == [], address


@pytest.fixture
def probe(squash, start, grow, make_garden, make_variety, member, client):
    """``probe("the stand")`` has a lot received from a garden of the member's, ``probe("the
    planting")`` a neighbour's, while the other grows what could cross with it; at three
    distances it gives all that a reader is told of it.
    """

    def ask(whose: str) -> list[list[str]]:
        theirs, own = make_garden("Upper Beck plot"), make_garden("probe", owner=member)
        stand, planting = (own, theirs) if whose == "the stand" else (theirs, own)
        pumpkin = make_variety("Ford Pumpkin", crop="pumpkin")
        grow(start(pumpkin), year=2022, garden=planting)
        noted = {"isolation": "distance", "isolation_distance_m": 900}
        lot = grow(start(squash), year=2022, garden=stand, **noted)
        addresses = [reverse(name, args=[lot.number]) for name in PAGES + ENDPOINTS[:2]]
        texts = []
        for north_m in (80, 790, 9000):
            # as if it had stood there from the beginning, in a world of its own
            latitude = 54.4 + north_m * NORTH_M
            Garden.objects.filter(pk=own.pk).update(latitude=latitude, longitude=-3.1)
            texts.append([TOKEN.sub("", body(client.get(one))) for one in addresses])
        return texts

    return ask


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("whose", ["the stand", "the planting"])
def test_who_puts_gardens_about_learns_nothing_of_where_others_grow(
    who, whose, probe, client, member, desk
):
    if who != "anybody":
        client.force_login({"member": member, "desk": desk}[who])

    near, not_far, far = probe(whose)

    assert near == not_far == far
    assert not any(PLAIN in text for text in near)


@pytest.mark.parametrize("whose", ["the stand", "the planting"])
def test_control_a_coordinator_is_told_the_one_from_the_other(whose, probe, as_coordinator):
    """What the test above compares does differ for who may know."""
    near, not_far, far = probe(whose)

    assert any(PLAIN in text for text in near)
    assert any(PLAIN in text for text in not_far)
    assert not any(PLAIN in text for text in far)


def test_a_coordinator_reads_it_on_the_page(as_coordinator, lot):
    page = body(as_coordinator.get(reverse("lot-off-types", args=[lot.number])))

    assert "Ford Pumpkin" in page
    assert ">80<" in page
    assert "54.4" not in page
