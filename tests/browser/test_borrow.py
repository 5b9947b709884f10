"""Borrowing in a real browser: from a name half remembered to the packet in the hand."""

from __future__ import annotations

import pytest
from django.utils import formats, timezone
from playwright.sync_api import expect

from accounts.services import add_garden
from library.lending.models import Loan
from library.lending.services import lend_packet
from library.science.sowing import seeds_for_stand
from library.stock.models import Packet

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def garden(member, valley):
    return add_garden(
        member=member,
        by=member,
        name="Mill Lane plot",
        last_spring_frost="04-20",
        first_autumn_frost="10-20",
    )


def test_a_member_finds_a_bean_by_half_its_name_and_the_desk_hands_it_over(
    walk, bean, member, garden, desk
):
    wren = walk(member)
    wren.open("/", "Tarn Hollow Seed Library")
    wren.write("What would you like to grow?", "Tarn Ketle")
    wren.push("Look")
    wren.arrive("Varieties")
    wren.follow("Tarn Kettle", inside=wren.page.get_by_role("table"))
    wren.arrive("Tarn Kettle")
    wren.follow("Borrow 20 seeds")
    wren.arrive("Borrow Tarn Kettle")
    wren.reads("Plants to grow", "Sow", "Seed ripe about", "What keeps it from crossing")

    wren.push("Borrow it")
    wren.arrive("Loan of Tarn Kettle")

    loan = Loan.objects.get()
    due = formats.date_format(loan.due_on, "j F Y")
    wren.reads("Tarn Kettle is kept for you at the desk.", due)
    wren.follow("My seed")
    wren.arrive("My seed")
    wren.reads("To collect at the desk", due)
    wren.press(wren.page.locator("summary", has_text="Why").first)
    wren.reads("this annual has ripe seed about")
    assert (loan.packet, loan.borrower, loan.handed_over_on) == (bean, member, None)

    heron = walk(desk)
    heron.open("/desk/", "Desk")
    heron.taps = 0
    heron.push(f"Hand over {bean.code}")
    heron.arrive("Desk")

    heron.reads("Handed over.", "What wren has out")
    loan.refresh_from_db()
    assert heron.taps <= 2
    assert loan.handed_over_on == timezone.localdate()
    assert loan.packet.state == Packet.State.LENT


def test_without_scripts_a_bean_is_borrowed_all_the_same(walk, bean, member, garden):
    wren = walk(member, scripts=False)
    wren.open("/", "Tarn Hollow Seed Library")
    wren.write("What would you like to grow?", "Tarn Ketle")
    wren.push("Look")
    wren.arrive("Varieties")
    wren.follow("Tarn Kettle", inside=wren.page.get_by_role("table"))
    wren.arrive("Tarn Kettle")
    wren.follow("Borrow 20 seeds")
    wren.arrive("Borrow Tarn Kettle")
    wren.reads("Plants to grow")

    wren.push("Borrow it")
    wren.arrive("Loan of Tarn Kettle")

    wren.reads("Tarn Kettle is kept for you at the desk.")
    assert Loan.objects.get().borrower == member


def test_whoever_comes_second_is_told_that_the_packet_is_gone(
    walk, bean, member, other_member, variety
):
    rook = walk(other_member)
    rook.open(f"/loans/new/?packet={bean.code}", "Borrow Tarn Kettle")
    lend_packet(packet=bean, borrower=member, on=timezone.localdate(), by=member)

    rook.push("Borrow it")
    rook.reads(f"Packet {bean.code} is not on the shelf: it is lent.")

    rook.page.complaints.clear()  # Chromium notes the answer 409
    assert Loan.objects.get().borrower == member


def test_another_stand_is_worked_out_in_place_and_heard(
    page_at, bean, member, garden, make_estimate, axe
):
    make_estimate(bean.lot, low=0.62, median=0.8)
    page = page_at(390, member=member)
    page.goto(f"/loans/new/?packet={bean.code}")

    page.get_by_label("Plants wanted").fill("4")
    page.get_by_label("Seedlings lost, %").fill("87.5")
    page.get_by_role("button", name="Work it out").click()

    said = f"Sow {seeds_for_stand(plants=4, germination=0.62, losses=0.875)} seeds for 4 plants"
    expect(page.locator("#how-much-said strong")).to_have_text(said)
    expect(page.locator("#live")).to_have_text(said)
    expect(page.get_by_label("Plants wanted")).to_have_value("4")
    assert "plants" not in page.url
    axe(page)


def test_on_a_phone_the_desks_button_is_in_reach_while_cautions_are_read(
    page_at, make_variety, make_packet, member, desk, valley, long_ago
):
    gourd = make_packet(make_variety(crop="courgette"), on=long_ago, seeds=5000)
    page = page_at(390, member=desk)

    page.goto(f"/loans/new/?packet={gourd.code}&member={member.pk}")

    assert page.locator(".caution").count() >= 2
    expect(page.get_by_role("button", name="Lend it")).to_be_in_viewport(ratio=1)
    expect(page.locator(".caution").first).to_be_in_viewport()
