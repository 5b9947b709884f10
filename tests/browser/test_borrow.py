"""Borrowing in a real browser: from a name half remembered to the packet in the hand."""

from __future__ import annotations

import pytest
from django.utils import formats, timezone

from accounts.services import add_garden
from library.lending.models import Loan
from library.lending.services import lend_packet
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
