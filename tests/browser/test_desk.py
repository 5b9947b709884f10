"""The desk in a real browser: a volunteer with a scanner, and a queue.

Each common thing takes at most two taps after the scan; typing a name is not a tap.
"""

from __future__ import annotations

import pytest
from django.utils import timezone

from library.lending.models import Loan
from library.lending.services import announce_return, lend_packet
from library.stock.models import Packet

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def heron(walk, desk):
    """The volunteer, at the desk."""
    walker = walk(desk)
    walker.open("/desk/", "Desk")
    return walker


@pytest.fixture
def loan(bean, member, desk, long_ago) -> Loan:
    """A bean that wren took home last year."""
    return lend_packet(packet=bean, borrower=member, on=long_ago, by=desk)


def scan(walker, code: str) -> None:
    """A scanner types the code and Enter into the field that has the focus."""
    walker.page.keyboard.type(code)
    walker.page.keyboard.press("Enter")
    walker.taps = 0


def test_a_packet_is_lent_with_two_taps(heron, bean, member):
    scan(heron, bean.code)
    heron.arrive("Lend Tarn Kettle")
    heron.write("Name they show to others", "wre")
    heron.follow("wren", exact=True)
    heron.arrive("Lend Tarn Kettle to wren")
    heron.push("Lend it")
    heron.arrive("Desk")

    heron.reads("Lent Tarn Kettle to wren.", "What wren has out", bean.code)
    loan = Loan.objects.get()
    assert heron.taps == 2
    assert (loan.packet, loan.borrower) == (bean, member)
    assert loan.handed_over_on == timezone.localdate()


def test_the_next_packet_for_the_same_person_takes_one_tap(heron, beans, member):
    heron.open(f"/desk/?member={member.pk}", "Desk")
    scan(heron, beans[1].code)
    heron.arrive("Lend Tarn Kettle to wren")

    heron.push("Lend it")
    heron.arrive("Desk")

    assert heron.taps == 1
    assert Loan.objects.get().packet == beans[1]


def test_a_chosen_packet_is_handed_over_with_one_tap(heron, bean, member):
    lend_packet(packet=bean, borrower=member, on=timezone.localdate(), by=member)
    scan(heron, bean.code)
    heron.arrive("Loan of Tarn Kettle")

    heron.push("Hand over")
    heron.arrive("Desk")

    heron.reads("Handed over.", "What wren has out")
    assert heron.taps == 1
    assert Loan.objects.get().handed_over_on == timezone.localdate()


def test_an_unopened_packet_is_taken_back_with_one_tap(heron, loan, bean):
    scan(heron, bean.code)
    heron.arrive("Loan of Tarn Kettle")

    heron.push("Packet came back unopened")
    heron.arrive("Desk")

    heron.reads("The packet is back on the shelf.")
    loan.refresh_from_db()
    bean.refresh_from_db()
    assert heron.taps == 1
    assert (loan.outcome, bean.state) == ("taken_back", Packet.State.ON_SHELF)


def test_announced_seed_is_received_with_two_taps(heron, loan, bean, member):
    announce_return(
        member=member,
        loans=[loan],
        on=timezone.localdate(),
        by=member,
        harvest_year=timezone.localdate().year,
        seeds=300,
    )
    scan(heron, bean.code)
    heron.arrive("Loan of Tarn Kettle")
    heron.reads("Seed is announced and waits to be received at the desk.")
    heron.follow("Receive seed")
    heron.arrive("Receive seed of Tarn Kettle from wren")

    heron.push("Receive it")
    heron.reads("Received. Its first test is planned.")

    loan.refresh_from_db()
    assert heron.taps == 2
    assert loan.outcome == "returned"
    assert loan.return_links.get().seed_return.lot.balance == 300


def test_somebody_without_a_packet_is_found_by_name(heron, loan, bean):
    heron.taps = 0
    heron.write("Name they show to others", "wre")

    heron.follow("wren", exact=True)

    heron.reads("What wren has out", bean.code)
    assert heron.taps == 1


def test_a_mistyped_code_is_said_to_be_mistyped(heron, bean):
    wrong = bean.code[:-1] + ("3" if bean.code[-1] != "3" else "4")

    scan(heron, wrong)

    heron.reads(f"“{wrong}” is not a packet code we can trust")
    heron.page.complaints.clear()  # Chromium notes the answer 400
