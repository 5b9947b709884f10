"""What a chain kept, in a real Chromium: on a phone, in the dark, with the keyboard."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from library.stock.models import Lot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def line(make_variety, make_lot) -> Lot:
    """Two generations of a cross, the second from two plants."""
    hybrid = make_variety("Ashelm", crop="tomato", breeding_status="f1")
    card = make_variety(
        "Ashelm line", crop="tomato", breeding_status="segregating", generation=4
    )
    lot = make_lot(hybrid, harvest_year=2021, on=dt.date(2021, 11, 1))
    for year, plants in ((2022, 30), (2023, 2)):
        lot = make_lot(
            card,
            origin="return",
            parents=[(lot, 1)],
            harvest_year=year,
            on=dt.date(year, 11, 1),
            growing={"plants_gave_seed": plants},
        )
    return lot


def test_the_measures_can_be_read_by_everyone(page_at, line, width, scheme, fits, axe, snap):
    page = page_at(width, scheme=scheme)

    page.goto(reverse("lot-chain-measures", args=[line.number]))

    expect(page.get_by_role("heading", name="Kept, generation by generation")).to_be_visible()
    narrow = page.get_by_role("complementary").get_by_role("link", name=line.number)
    expect(narrow).to_be_visible()
    fits(page)
    axe(page)
    snap(page, f"measures-{width}-{scheme}")


def test_a_level_is_asked_for_and_answered(page_at, line):
    page = page_at(390)
    page.goto(reverse("lot-chain-measures", args=[line.number]))

    page.get_by_label("It should breed true to").fill("99.9")
    page.get_by_label("It should breed true to").press("Enter")

    row = page.get_by_role("row", name="99.9 %")
    expect(row).to_contain_text("F11")  # (1/2)^10 is the first under 0.001
