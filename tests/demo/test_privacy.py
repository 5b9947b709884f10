"""No page of the demo tells where anybody lives or gardens, or how to write to them."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from accounts.models import Garden, Member
from library.catalogue.models import Crop, Variety
from library.stock.models import Lot

pytestmark = pytest.mark.usefixtures("demo")


def addresses(lots: slice) -> list[str]:
    """The pages that everyone may open: all cards, all crops in use, some of the lots."""
    crops = Crop.objects.filter(varieties__isnull=False).distinct()
    return [
        reverse("home"),
        reverse("browse"),
        reverse("crops"),
        *(variety.get_absolute_url() for variety in Variety.objects.select_related("crop")),
        *(crop.get_absolute_url() for crop in crops),
        *(lot.get_absolute_url() for lot in Lot.objects.order_by("pk")[lots]),
    ]


def gives_away(page: str) -> list[str]:
    """Addresses and coordinates of the demo that stand in a page."""
    emails = re.findall(r"[\w.-]+@[\w.-]+", page)
    return emails + [place for place in _coordinates() if place in page]


def _coordinates() -> set[str]:
    """Every exact coordinate, as it would be printed."""
    exact = Garden.objects.filter(placed="exact")
    pairs = exact.values_list("latitude", "longitude")
    return {str(number.normalize()) for pair in pairs for number in pair}


def crawl(client, pages: list[str]) -> dict[str, list[str]]:
    found = {}
    for page in pages:
        response = client.get(page)
        assert response.status_code == 200, page
        found[page] = gives_away(response.content.decode())
    return {page: what for page, what in found.items() if what}


def test_the_sample_holds_what_it_looks_for():
    garden = Garden.objects.filter(placed="exact").first()

    assert gives_away(f"<p>{garden.latitude}</p>") == [str(garden.latitude.normalize())]
    assert gives_away(garden.member.email) == [garden.member.email]


@pytest.mark.parametrize("third", [0, 1])
def test_nobody_is_given_away_to_a_passer_by_or_to_a_member(client, third):
    if third:
        client.force_login(Member.objects.get(display_name="Moss"))

    assert crawl(client, addresses(slice(third, None, 3))) == {}
