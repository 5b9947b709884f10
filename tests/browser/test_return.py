"""Bringing seed back in a real browser, and the honest endings when there is none."""

from __future__ import annotations

import pytest
from django.utils import timezone

from library.germination.models import TestDate
from library.lending.models import Loan, Return
from library.lending.services import lend_packet
from library.stock.models import Growing, Lot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def loan(bean, member, desk, long_ago) -> Loan:
    """A bean that wren took home last year."""
    return lend_packet(packet=bean, borrower=member, on=long_ago, by=desk)


@pytest.fixture
def announce(walk, loan, member):
    """``announce(scripts=True)`` is wren, who has told of 300 seeds of 31 plants."""

    def go(*, scripts: bool = True, more_to_come: bool = False):
        wren = walk(member, scripts=scripts)
        wren.open("/my-seed/", "My seed")
        wren.follow("Bring seed back Tarn Kettle")
        wren.arrive("Bring back Tarn Kettle")
        wren.write("Seeds", "300")
        wren.write("Plants that gave seed", "31")
        wren.choose("Kept from crossing by", "distance")
        wren.write("Metres to the nearest that could cross", "40")
        wren.write("What you pulled out", "two with flat pods")
        if more_to_come:
            wren.press(wren.page.get_by_role("checkbox", name="More seed of this is to come"))
        wren.push("Announce it")
        wren.arrive("Seed of Tarn Kettle")
        return wren

    return go


def receive(heron, seeds: str) -> Lot:
    """The desk counts what wren announced; the lot that was made of it."""
    heron.open("/desk/", "Desk")
    heron.follow("Receive Tarn Kettle")
    heron.arrive("Receive seed of Tarn Kettle from wren")
    heron.reads("What was told", "31", "two with flat pods")
    heron.write("Seeds", seeds)
    heron.push("Receive it")
    heron.reads("Received. Its first test is planned.")
    return Lot.objects.get(origin="return")


def test_seed_goes_round_from_the_loan_to_a_lot_with_its_parent(walk, announce, loan, desk):
    wren = announce()
    wren.reads("Thank you. Bring the seed to the desk when you come by.")
    wren.follow("My seed")
    wren.arrive("My seed")
    wren.reads("Seed is announced; bring it to the desk.")

    heron = walk(desk)
    lot = receive(heron, "280")
    heron.arrive(f"Lot {lot.number}, Tarn Kettle")

    parent = loan.packet.lot
    heron.reads("First test by", parent.number, "31", "40 m", "two with flat pods", "wren")
    loan.refresh_from_db()
    assert [link.parent for link in lot.parent_links.all()] == [parent]
    assert (lot.balance, lot.harvest_year) == (280, timezone.localdate().year)
    assert Growing.objects.get(lot=lot).plants_gave_seed == 31
    assert TestDate.objects.get(lot=lot).kind == "first"
    assert loan.outcome == Loan.Outcome.RETURNED

    wren.page.reload()
    wren.arrive("My seed")
    wren.reads("You have nothing out.", "What I brought back", lot.number)


def test_a_part_may_come_first(walk, announce, loan, desk):
    announce(more_to_come=True)

    heron = walk(desk)
    lot = receive(heron, "120")
    heron.arrive(f"Lot {lot.number}, Tarn Kettle")

    loan.refresh_from_db()
    assert loan.is_open
    heron.open(f"/loans/{loan.pk}/", "Loan of Tarn Kettle")
    heron.reads("Part of the seed returned", lot.number)


@pytest.mark.parametrize(
    ("link", "ending", "outcome"),
    [
        ("Crop failed", "The crop failed", Loan.Outcome.CROP_FAILED),
        ("Nothing to bring", "There is nothing to bring back", Loan.Outcome.NOTHING_TO_RETURN),
    ],
)
def test_an_honest_ending_is_two_taps_and_a_few_words(
    walk, loan, member, link, ending, outcome
):
    wren = walk(member)
    wren.open("/my-seed/", "My seed")
    wren.taps = 0
    wren.follow(f"{link} Tarn Kettle")
    wren.arrive("How did it end?")
    wren.reads("Nothing follows from it")
    assert wren.page.get_by_role("radio", name=ending).is_checked()
    wren.write("What happened? needed if the crop failed", "Slugs had all but two.")
    wren.push("Close the loan")
    wren.arrive("Loan of Tarn Kettle")

    wren.reads("Thank you for telling us. The loan is closed.", "Slugs had all but two.")
    loan.refresh_from_db()
    assert wren.taps == 2
    assert (loan.outcome, loan.outcome_note) == (outcome, "Slugs had all but two.")


def test_without_scripts_seed_comes_back_all_the_same(walk, announce, loan, desk):
    announce(scripts=False)

    heron = walk(desk, scripts=False)
    lot = receive(heron, "280")
    heron.arrive(f"Lot {lot.number}, Tarn Kettle")

    heron.reads("First test by")
    assert Return.objects.get().lot == lot
