"""A lot's story and picture in a real Chromium: read, walked by keyboard, opened, printed."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from library.provenance.services import report_off_types
from library.stock import services as stock
from library.stock.models import Lot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DEEP = 9
TEXTS = """() => [...document.querySelectorAll('svg[data-chain] text')].map(t => {
  const b = t.getBoundingClientRect();
  return {text: t.textContent, left: b.left, right: b.right, top: b.top, bottom: b.bottom};
}).filter(b => b.right > b.left)"""


@pytest.fixture
def chain(make_variety, make_lot, member, desk) -> Lot:
    """A squash grown on for nine seasons, poured together once, crossed once, narrow once."""
    squash = make_variety("Ferry Bell", crop="courgette")
    lot = make_lot(
        squash, harvest_year=2014, on=dt.date(2014, 11, 1), origin_region="the high farms"
    )
    for year in range(2015, 2015 + DEEP):
        facts = {"plants_gave_seed": 2 if year == 2018 else 24, "isolation": "hand_pollination"}
        if year == 2021:
            facts |= {"isolation": "distance", "isolation_distance_m": 40}
        lots = [
            make_lot(
                squash,
                origin="return",
                parents=[(lot, 1)],
                harvest_year=year,
                on=dt.date(year, 11, 1),
                grower=member,
                growing=facts,
            )
            for _twice in range(2 if year == 2016 else 1)
        ]
        lot = lots[0]
        if len(lots) == 2:
            on = dt.date(year, 12, 1)
            lot = stock.bulk_lots(lots=[(each, 100) for each in lots], on=on, by=desk)
    seen = dt.date(2022, 7, 1)
    doubtful = Lot.objects.get(harvest_year=2021)
    report_off_types(lot=doubtful, seen_on=seen, what="round ones", by=member, on=seen)
    return lot


def overlapping(boxes):
    return [
        (a["text"], b["text"])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if min(a["right"], b["right"]) - max(a["left"], b["left"]) > 1
        and min(a["bottom"], b["bottom"]) - max(a["top"], b["top"]) > 1
    ]


def test_the_story_is_read_from_the_lot_down_to_who_holds_it(
    page_at, chain, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme)
    page.goto(chain.get_absolute_url())
    page.get_by_role("link", name="Read where it came from").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("Where it came from")
    for sentence in ("It came from: the high farms.", "round ones", "May have crossed."):
        expect(page.get_by_text(sentence).first).to_be_visible()
    expect(page.get_by_role("heading", name="Who holds it now")).to_be_visible()
    fits(page)
    axe(page)
    snap(page, f"story-{width}-{scheme}")


def test_the_picture_says_all_in_words_and_nothing_lies_on_anything(
    page_at, chain, width, scheme, fits, snap
):
    page = page_at(width, scheme=scheme)

    page.goto(reverse("lot-chain-picture", args=[chain.number]) + "?generations=all")

    marks = page.locator("svg[data-chain] .mark")
    expect(marks).to_have_count(DEEP + 3)
    assert overlapping(page.evaluate(TEXTS)) == []
    for words in ("few plants", "may have crossed", "off-types seen"):
        expect(page.locator("svg[data-chain]").get_by_text(words).first).to_be_attached()
    fits(page)
    snap(page, f"chain-picture-{width}-{scheme}")


def test_the_picture_can_be_used_by_everyone(page_at, chain, width, scheme, axe):
    """As first shown: of what is scrolled out of its box, colours cannot be judged."""
    page = page_at(width, scheme=scheme)

    page.goto(reverse("lot-chain-picture", args=[chain.number]))

    axe(page)


def test_the_picture_begins_at_the_lot_that_was_asked_for(page_at, chain):
    page = page_at(390)

    page.goto(reverse("lot-chain-picture", args=[chain.number]) + "?generations=all")

    expect(page.locator("svg[data-chain] .start .shape")).to_be_in_viewport()


def test_arrows_walk_from_mark_to_mark(page_at, chain):
    page = page_at(1280)
    page.goto(reverse("lot-chain-picture", args=[chain.number]))
    page.locator("svg[data-chain] .start a").first.focus()

    page.keyboard.press("ArrowLeft")

    parent = chain.parent_links.get().parent
    name = page.evaluate("document.activeElement.getAttribute('aria-label')")
    assert name.startswith(parent.number)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(re.escape(parent.get_absolute_url()) + "$"))


@pytest.mark.parametrize("scripts", [True, False])
def test_older_lots_open_on_demand_also_without_scripts(page_at, chain, scripts):
    page = page_at(390, java_script_enabled=scripts)
    page.goto(reverse("lot-chain-picture", args=[chain.number]))
    expect(page.locator("svg[data-chain] .mark")).to_have_count(4)

    page.get_by_role("row").get_by_role("link", name="more").click()

    expect(page.locator("svg[data-chain] .mark")).to_have_count(7)


def test_the_picture_prints_on_one_sheet(page_at, chain, tmp_path):
    page = page_at(1280)
    page.goto(reverse("lot-chain-picture", args=[chain.number]) + "?generations=all")
    page.emulate_media(media="print")

    box = page.locator("svg[data-chain]").bounding_box()

    assert box["height"] < 700  # A4 across, less its margins, at 96 pixels to the inch
    assert box["width"] <= page.viewport_size["width"]
    expect(page.get_by_role("navigation", name="How much is shown")).to_be_hidden()


def test_the_story_prints_with_its_number_and_day(page_at, chain):
    page = page_at(1280)
    page.goto(reverse("lot-chain", args=[chain.number]))
    line = page.get_by_text(f"Lot {chain.number}, printed on")
    expect(line).to_be_hidden()

    page.emulate_media(media="print")

    expect(line).to_be_visible()
    expect(page.get_by_role("navigation", name="Go on")).to_be_hidden()
