"""Two gardens 80 m apart: everybody reads that something was too near, and nothing else."""

from __future__ import annotations

import pytest
from django.urls import NoReverseMatch, reverse

from library.stock import services as stock

pytestmark = pytest.mark.usefixtures("november")
PLAIN = "Another planting of the species that the library knows of was nearer than is needed."
PAGES = ["lot", "lot-off-types", "lot-chain", "lot-chain-picture", "lot-chain-measures"]
ENDPOINTS = ["api-lot-purity", "api-lot-ancestors", "api-lot-chain-measures", "api-lot-prov"]
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
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize("who", READERS)
def test_the_neighbour_is_told_to_nobody_but_coordinators(who, lot, reading):
    from accounts.models import Garden

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

    assert PLAIN in read[reverse("lot-off-types", args=[lot.number])]
    assert PLAIN in read[reverse("api-lot-purity", args=[lot.number])]
    for address, text in read.items():
        assert [secret for secret in secrets if secret in text] == [], address


@pytest.mark.parametrize("who", READERS)
def test_how_near_it_was_changes_nothing_that_is_read(
    who, squash, start, grow, make_garden, make_variety, client, member, desk, monkeypatch
):
    """The same stand with a neighbour at 3 m, at 80 m and at 790 m reads the same."""
    import library.provenance.purity as purity
    from library.provenance.plantings import KnownPlantings, Planting

    garden = make_garden("Upper Beck plot")
    noted = {"isolation": "distance", "isolation_distance_m": 900, "garden": garden}
    lot = grow(start(squash), year=2022, **noted)
    other = start(make_variety("Ford Pumpkin", crop="pumpkin"))
    if who != "anybody":
        client.force_login({"member": member, "desk": desk}[who])

    def read(metres: float) -> list[str]:
        near = KnownPlantings({lot.pk: (Planting(other.pk, metres),)}, frozenset({lot.pk}))
        monkeypatch.setattr(purity, "known_plantings", lambda *_: near)
        page = body(client.get(reverse("lot-off-types", args=[lot.number])))
        tokens = [part for part in page.split() if not part.startswith('value="')]
        return [*tokens, body(client.get(reverse("api-lot-purity", args=[lot.number])))]

    first = read(80)
    assert any(PLAIN in part for part in first)
    assert read(3) == read(790) == first


def test_a_coordinator_reads_it_on_the_page(as_coordinator, lot):
    page = body(as_coordinator.get(reverse("lot-off-types", args=[lot.number])))

    assert "Ford Pumpkin" in page
    assert ">80<" in page
    assert "54.4" not in page
