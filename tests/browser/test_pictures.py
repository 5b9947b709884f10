"""The pictures in a real Chromium: readable on a phone, in the dark, on paper, and aloud."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from library.germination import services
from library.germination.models import TestDate
from library.stock import services as stock

SMALLEST_WORDS = 12  # CSS pixels

VISIBLE_WORDS = """() => [...document.querySelectorAll('svg.viability[role=img] text')]
    .filter(word => word.getBoundingClientRect().width > 0)
    .map(word => {
      const box = word.getBoundingClientRect();
      const scale = word.getScreenCTM().a;
      return {text: word.textContent, left: box.left, right: box.right, top: box.top,
              bottom: box.bottom, size: parseFloat(getComputedStyle(word).fontSize) * scale};
    })"""


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def storied(make_lot, variety, desk, today):
    """A lot with a history: moved twice, tested five times, once in vain, soon to be sown."""
    years = dt.timedelta(days=365)
    lot = make_lot(variety, seeds=4000, harvest_year=today.year - 9, on=today - 8 * years)
    cellar = stock.add_storage_place(name="Cellar", kind="room", temperature_c=12, by=desk)
    freezer = stock.add_storage_place(
        name="Chest", kind="freezer", inside=cellar, temperature_c=-18, by=desk
    )
    stock.move_lot(lot=lot, storage_place=cellar, by=desk, on=today - 7 * years)
    stock.move_lot(lot=lot, storage_place=freezer, by=desk, on=today - 2 * years)
    for ago, normal in (
        (8, (48, 47)),
        (6, (46, 44)),
        (5, (45, 20)),
        (3, (40, 41)),
        (1, (38, 36)),
    ):
        services.record_test(
            lot=lot,
            replicates=[{"seeds": 50, "normal": number} for number in normal],
            started_on=today - ago * years,
            closed_on=today - ago * years + dt.timedelta(days=8),
            by=desk,
        )
    lot.refresh_from_db()
    services.expect_sowing(
        lot=lot, on=today + dt.timedelta(days=150), what_for="grow-out", by=desk
    )
    return lot


@pytest.fixture
def due(make_lot, variety, today):
    """Five lots to be tested next month."""
    after = (today.replace(day=1) + dt.timedelta(days=40)).replace(day=9)
    for _ in range(5):
        TestDate.objects.create(
            lot=make_lot(variety, seeds=600),
            kind=TestDate.Kind.FIRST,
            due_on=after,
            rule="first_test",
            inputs={"received_on": "2025-10-01", "within_days": 90},
        )
    return after


def overlapping(words):
    return [
        (a["text"], b["text"])
        for n, a in enumerate(words)
        for b in words[n + 1 :]
        if min(a["right"], b["right"]) - max(a["left"], b["left"]) > 1
        and min(a["bottom"], b["bottom"]) - max(a["top"], b["top"]) > 3  # room for accents
    ]


def test_the_curve_can_be_read_by_everyone(
    page_at, storied, coordinator, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme, member=coordinator)

    page.goto(reverse("lot-viability", args=[storied.number]))

    words = page.evaluate(VISIBLE_WORDS)
    assert len(words) > 10
    assert [word["text"] for word in words if word["size"] < SMALLEST_WORDS] == []
    assert overlapping(words) == []
    fits(page)
    axe(page)
    snap(page, f"viability-{width}-{scheme}")


def test_one_size_of_the_curve_is_shown_and_heard(page_at, storied, member, width):
    page = page_at(width, member=member)

    page.goto(reverse("lot-viability", args=[storied.number]))

    pictures = page.get_by_role("img", name=f"Viability of lot {storied.number} over time")
    expect(pictures).to_have_count(1)
    expect(pictures).to_have_accessible_description(
        page.locator(".curve .said").inner_text(), timeout=2000
    )


def test_the_curve_on_paper_is_the_wide_one_on_the_first_sheet(page_at, storied, member):
    page = page_at(390, member=member)
    page.goto(reverse("lot-viability", args=[storied.number]))

    page.emulate_media(media="print")
    page.set_viewport_size({"width": 688, "height": 1010})  # an A4 sheet within its margins

    picture = page.locator("svg.viability.wide[role=img]")
    expect(picture).to_be_visible()
    expect(page.locator("svg.viability.narrow")).to_be_hidden()
    expect(page.locator(".narrow-cells")).to_be_visible()
    box = picture.bounding_box()
    assert box["y"] + box["height"] < 1010
    words = page.evaluate(VISIBLE_WORDS)
    assert min(word["size"] for word in words) >= SMALLEST_WORDS


def test_the_lot_page_has_the_small_picture(
    page_at, storied, member, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme, member=member)

    page.goto(storied.get_absolute_url())

    words = page.evaluate(VISIBLE_WORDS)
    assert [word["text"] for word in words if word["size"] < SMALLEST_WORDS] == []
    assert overlapping(words) == []
    fits(page)
    axe(page)
    snap(page, f"lot-curve-{width}-{scheme}")


def test_a_month_of_the_calendar_opens_its_lots(
    page_at, due, coordinator, width, scheme, fits, axe, snap
):
    page = page_at(width, scheme=scheme, member=coordinator)
    page.goto(reverse("bench"))
    page.get_by_role("link", name="The whole calendar").click()

    page.get_by_role("link", name=f"{due:%b %Y}").click()
    page.wait_for_load_state()

    expect(page.get_by_role("heading", name="The lots")).to_be_visible()
    expect(page.locator("#lots ~ form tbody tr")).to_have_count(5)
    fits(page)
    axe(page)
    snap(page, f"calendar-{width}-{scheme}")


def test_the_living_seed_is_a_table_that_scrolls_by_itself(
    page_at, storied, make_lot, variety, member, width, scheme, fits, axe, snap
):
    for year in range(2008, 2024):
        make_lot(variety, harvest_year=year)
    page = page_at(width, scheme=scheme, member=member)
    page.goto(reverse("browse"))

    page.get_by_role("link", name="Living seed").click()
    page.wait_for_load_state()  # with its styles: the table is there before them

    row = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name="drying bean"))
    # The crop's sum, 13 years and those before them together.
    expect(row.get_by_role("cell")).to_have_count(15)
    fits(page)
    axe(page)
    snap(page, f"living-{width}-{scheme}")
