"""The stock and the bench in a real browser, on a phone and on a desk."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from library.germination import services as bench
from library.stock import services
from library.stock.models import Movement, Packet, StockTake

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)


@pytest.fixture
def lot(make_lot, variety, desk, member):
    """A lot with a parent, packets in every state, a test, an amendment and a place."""
    room = services.add_storage_place(
        name="Cellar", kind="room", temperature_c=9, humidity_percent=55, by=desk
    )
    tin = services.add_storage_place(name="Tin", kind="box", inside=room, by=desk)
    parent = make_lot(variety, harvest_year=2023)
    lot = make_lot(
        variety,
        seeds=2000,
        packets=4,
        origin="return",
        parents=[(parent, 1)],
        harvest_year=2024,
        grower=member,
        storage_place=tin,
        growing={"plants_stood": 40, "plants_gave_seed": 31, "isolation": "distance"},
    )
    out, gone, *_rest = lot.packets.all()
    services.take_packet_off_shelf(packet=out, on=START, by=desk)
    services.discard(lot=lot, packet=gone, on=START, by=desk, reason="wet")
    dishes = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 43, "hard": 2}]
    bench.record_test(lot=lot, replicates=dishes, started_on=START, closed_on=END, by=desk)
    services.amend_lot(
        lot=lot, field="origin_region", value="Low Fell", reason="asked again", by=desk
    )
    return lot


@pytest.fixture
def addresses(lot, make_lot, coordinator):
    """Every kind of page, by a short name."""
    for other in (make_lot(), make_lot()):
        bench.expect_first_test(lot=other, on=dt.date(2025, 10, 1))
    running = bench.start_test(lot=other, replicates=2, seeds_each=10, on=START, by=coordinator)
    take = services.start_stock_take(storage_place=None, by=coordinator)
    packet = lot.packets.on_shelf().first()
    return {
        "lot": lot.get_absolute_url(),
        "packet": packet.get_absolute_url(),
        "labels": reverse("lot-labels", args=[lot.number]),
        "pack": reverse("lot-pack", args=[lot.number]),
        "amend": reverse("lot-amend", args=[lot.number]),
        "bulk": reverse("lot-bulk", args=[lot.variety_id]),
        "scan": reverse("scan"),
        "storage": reverse("storage"),
        "place": reverse("storage-place", args=[lot.storage_place_id]),
        "weighing": reverse("weighing") + f"?variety={lot.variety_id}&grams=30",
        "stock-takes": reverse("stock-takes"),
        "stock-take": reverse("stock-take", args=[take.pk]),
        "stock-count": reverse("stock-count", args=[take.pk, lot.number]),
        "bench": reverse("bench"),
        "test": reverse("test", args=[lot.germination_tests.get().pk]),
        "test-start": reverse("test-start", args=[lot.number]),
        "test-record": reverse("test-record", args=[lot.number]),
        "test-count": reverse("test-count", args=[running.pk]),
    }


def test_every_page_fits_and_can_be_used_by_everyone(
    page_at, addresses, coordinator, width, axe, fits, snap
):
    page = page_at(width, member=coordinator)
    for name, address in addresses.items():
        page.goto(address)

        snap(page, f"stock-{name}-{width}")
        fits(page)
        axe(page)


def test_a_wedge_scanner_needs_no_mouse(page_at, lot, desk, width):
    packet = lot.packets.on_shelf().first()
    page = page_at(width, member=desk)
    page.goto(reverse("scan"))

    page.keyboard.type(packet.code.replace("-", "").lower())
    page.keyboard.press("Enter")

    page.wait_for_url(f"**{packet.get_absolute_url()}")


def test_packets_are_ticked_off_by_scanner_and_a_missing_one_is_written(
    page_at, lot, desk, width
):
    here, gone = lot.packets.on_shelf()
    page = page_at(width, member=desk)
    page.goto(reverse("stock-takes"))
    page.get_by_role("button", name="Start counting").click()
    page.wait_for_url("**/stock-taking/*/")
    take = StockTake.objects.get()
    page.goto(reverse("stock-count", args=[take.pk, lot.number]))

    expect(page.get_by_label("Scan a packet")).to_be_focused()
    page.keyboard.type(here.code)
    page.keyboard.press("Enter")
    page.get_by_role("checkbox", name=here.code, checked=True).wait_for()
    page.get_by_label("In the jar").fill("1800")
    page.get_by_role("button", name="Write the count down").click()
    page.get_by_role("link", name="Close it").click()
    page.get_by_role("button", name="Close and write").click()
    page.get_by_text("The ledger says what was found.").wait_for()

    gone.refresh_from_db()
    assert gone.state == Packet.State.MISSING
    assert list(
        Movement.objects.filter(kind="found_different").values_list(
            "loose_change", "packed_change"
        )
    ) == [(0, -20), (-20, 0)]


def test_a_test_is_recorded_on_a_phone(page_at, lot, desk, width):
    page = page_at(width, member=desk)
    page.goto(reverse("test-record", args=[lot.number]) + "?dishes=2")

    page.get_by_label("Started on").fill("2025-11-10")
    page.get_by_label("Counted on").fill("2025-11-18")
    for dish, normal in (("Dish 1", "45"), ("Dish 2", "44")):
        group = page.get_by_role("group", name=dish)
        group.get_by_label("Sown").fill("50")
        group.get_by_label("Normal", exact=True).fill(normal)
    page.get_by_role("button", name="Record it").click()

    page.get_by_role("heading", name="89 % germinated").wait_for()
    assert lot.germination_tests.count() == 2
