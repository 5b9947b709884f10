"""Seed brought in, in a real browser: offered, received, packed, declined, brought at once."""

from __future__ import annotations

import pytest
from django.utils import timezone

from library.catalogue.models import Crop, Variety
from library.germination.models import TestDate
from library.lending.models import Deposit
from library.lending.services import propose_deposit
from library.outbox.models import Message
from library.stock.models import Lot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def offered(reference, member, valley) -> Deposit:
    """Wren has offered a bean that the catalogue does not know."""
    return propose_deposit(
        depositor=member,
        on=timezone.localdate(),
        crop=Crop.objects.get(name="drying bean"),
        new_variety_name="Mill Lane Speckle",
        grams="60",
    )


@pytest.fixture
def heron(walk, desk):
    return walk(desk)


def test_a_member_offers_seed_and_reads_what_may_not_be_brought(
    walk, reference, member, valley
):
    wren = walk(member)
    wren.open("/my-seed/", "My seed")
    wren.follow("Offer seed")
    wren.arrive("Offer seed")
    wren.reads("Bring only what may be shared", "plant variety protection")
    wren.choose("Crop", "drying bean")
    wren.write("Name of the variety", "Mill Lane Speckle")
    wren.write("or grams", "60")
    wren.write("Where it comes from", "Upper Tarn")
    wren.press(wren.page.get_by_role("checkbox", name="I have read the notice above"))

    wren.push("Offer it")
    wren.arrive("Deposit of Mill Lane Speckle")

    wren.reads("Thank you. Bring it to the desk when you come by.", "60 g", "Upper Tarn")
    deposit = Deposit.objects.get()
    assert deposit.is_waiting
    assert (deposit.what, deposit.depositor, deposit.grams) == ("Mill Lane Speckle", member, 60)


def test_offered_seed_is_weighed_received_and_packed(heron, offered):
    heron.open("/desk/", "Desk")
    heron.follow("Receive Mill Lane Speckle")
    heron.arrive("Receive Mill Lane Speckle")
    heron.write("or grams", "60")
    heron.write("Weight of a thousand of these seeds, g", "250")
    heron.write("Fill packets now: how many", "4")
    heron.write("with so many seeds in each", "25")
    heron.reads("60 g at 250 g for a thousand: 240 seeds.")

    heron.push("Receive it")
    heron.reads("Received 60 g at 250 g for a thousand: 240 seeds.")
    lot = Lot.objects.get()
    heron.arrive(f"Lot {lot.number}, Mill Lane Speckle")

    heron.reads("First test by")
    assert (lot.loose, lot.packed, lot.packets.count()) == (140, 100, 4)
    assert TestDate.objects.get(lot=lot).kind == "first"
    offered.refresh_from_db()
    assert (offered.state, offered.lot) == (Deposit.State.RECEIVED, lot)

    heron.follow("Fill packets")
    heron.arrive("Fill packets")
    heron.write("How many packets", "2")
    heron.write("Counted into each", "30")
    heron.push("Fill packets")
    heron.arrive("Labels")
    lot.refresh_from_db()
    assert (lot.loose, lot.packed) == (80, 160)


def test_what_cannot_be_taken_is_declined_with_a_reason(heron, walk, offered, member):
    heron.open(offered.get_absolute_url(), "Deposit of Mill Lane Speckle")
    heron.follow("Decline")
    heron.arrive("Decline Mill Lane Speckle")
    heron.write("Why it cannot be taken in", "The seed is coated; we cannot take treated seed.")

    heron.push("Decline it")
    heron.arrive("Desk")

    heron.reads("Declined. The depositor is told by mail.")
    wren = walk(member)
    wren.open(offered.get_absolute_url(), "Deposit of Mill Lane Speckle")
    wren.reads("Declined", "The seed is coated; we cannot take treated seed.")
    letter = Message.objects.get()
    assert letter.to == member.email
    assert "The seed is coated" in letter.text
    assert not Lot.objects.exists()


def test_somebody_who_is_no_member_is_served_at_once(heron, reference, valley):
    heron.open("/desk/", "Desk")
    heron.follow("Take in a deposit")
    heron.arrive("Take in a deposit")
    heron.choose("Crop", "drying bean")
    heron.write("Name of the variety", "Beckside Grey")
    heron.write("Seeds", "120")

    heron.push("Receive it")
    heron.reads("Received. Its first test is planned.")
    lot = Lot.objects.get()
    heron.arrive(f"Lot {lot.number}, Beckside Grey")

    assert lot.balance == 120
    assert Deposit.objects.get().depositor is None
    assert Variety.objects.get().name == "Beckside Grey"
