"""A season in one's own garden, from the home page to the sheet on paper, in Chromium."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from accounts.services import add_garden
from library.household.models import SavingPlan


@pytest.fixture
def garden(member):
    return add_garden(
        member=member,
        by=member,
        name="Mill Lane plot",
        last_spring_frost="05-10",
        first_autumn_frost="10-05",
    )


def test_a_member_plans_a_garden_from_home_to_paper(
    page_at, garden, member, make_variety, make_lot, width, fits, axe, snap
):
    scheme = "dark" if width < 500 else "light"
    year = timezone.localdate().year + 1
    pea = make_variety("Beck Pea", crop="garden pea")
    make_lot(pea, custodian=member, harvest_year=2021, on=dt.date(2021, 10, 1))
    make_variety("The Very Long Name of a Courgette of Sallowmere", crop="courgette")
    make_variety("Long Ember", crop="pumpkin")
    page = page_at(width, scheme=scheme, member=member)

    page.goto(reverse("home"))
    page.get_by_role("link", name="Plan my own garden").click()
    page.get_by_role("link", name="Make a list").click()
    page.get_by_label("Season").fill(str(year))
    page.get_by_label("or plots: how many").fill("4")
    page.get_by_label("of so many square metres each").fill("12.5")
    axe(page)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("0.0 of 50.0 m²")).to_be_visible()

    for name in ("courgette of sallow", "Long Ember"):
        page.get_by_role("link", name="Add varieties").first.click()
        page.get_by_label("Name of a variety or crop").fill(name)
        page.get_by_role("button", name="Find").click()
        page.get_by_role("group", name="Found for").get_by_role("checkbox").first.check()
        axe(page)
        page.get_by_role("button", name="Put on the list").click()
    expect(page.get_by_text("They would cross")).to_be_visible()
    fits(page)
    axe(page)
    snap(page, f"own-garden-{width}-{scheme}")

    page.get_by_role("row", name="Long Ember").get_by_role("link", name="Long Ember").click()
    page.get_by_label("Kept from crossing by").select_option("bag")
    fits(page)
    axe(page)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("They would cross")).to_be_hidden()

    page.get_by_role("link", name="Rotation").click()
    page.get_by_text("Why?").first.click()
    fits(page)
    axe(page)
    snap(page, f"own-garden-rotation-{width}-{scheme}")
    page.get_by_role("button", name="Put these on the list").click()
    assert SavingPlan.objects.get().choices.count() == 3

    page.get_by_role("link", name="Calendar").click()
    expect(page.get_by_role("heading", name=f"May {year}")).to_be_visible()
    fits(page)
    axe(page)
    snap(page, f"own-garden-calendar-{width}-{scheme}")
    page.get_by_role("link", name="On paper").click()
    axe(page)
    page.emulate_media(media="print")
    expect(page.get_by_role("link", name="Rotation")).to_be_hidden()
    expect(page.get_by_role("cell", name="bags over the flowers").first).to_be_visible()
    snap(page, f"own-garden-sheet-{width}-{scheme}")


def test_a_jar_of_sauce_each_week_goes_back_to_the_seed(
    page_at, garden, member, make_variety, make_packet, width, fits, axe, snap
):
    tomato = make_variety("Scar Red", crop="tomato")
    make_packet(tomato, seeds_each=40)
    scheme = "dark" if width < 500 else "light"
    page = page_at(width, scheme=scheme, member=member)

    page.goto(reverse("home"))
    page.get_by_role("link", name="From the kitchen back").click()
    page.get_by_role("link", name="Make a plan").click()
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Add what you eat").first.click()
    page.get_by_label("Crop", exact=True).select_option(label="tomato")
    page.get_by_role("button", name="Go on").click()
    page.locator("#id_product").select_option(
        label="canning: sauce, thin (boiled down by about a third), quart jars (0.95 l)"
    )
    page.get_by_label("How much each time").fill("1")
    page.get_by_label("Times a year").fill("52")
    page.locator("#id_variety").select_option(label="Scar Red")
    page.get_by_label("I save seed of it too").check()
    page.get_by_text("What I know better than the tables").click()
    fits(page)
    axe(page)
    snap(page, f"kitchen-dish-{width}-{scheme}")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_text("117.9 kg")).to_be_visible()
    expect(page.get_by_role("definition").filter(has_text="159")).to_be_visible()
    expect(page.get_by_text("bottled lemon juice")).to_be_visible()
    page.locator("details.why > summary").first.click()
    fits(page)
    axe(page)
    snap(page, f"kitchen-{width}-{scheme}")

    page.get_by_role("link", name="Take over into my list of seed").click()
    page.get_by_label("Room for seed crops, in square metres").fill("80")
    axe(page)
    page.get_by_role("button", name="Take over").click()
    expect(page.get_by_role("row", name="Scar Red")).to_contain_text("159")
