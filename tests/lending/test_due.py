"""What is due, to whom, and from when."""

from __future__ import annotations

import datetime as dt

import pytest

from library.lending import services
from library.lending.due import due_items
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


def kinds(until: dt.date) -> list[str]:
    return [item.kind for item in due_items(until=until)]


def test_a_loan_is_told_three_weeks_before_it_is_due(loan, member):
    told_from = loan.due_on - dt.timedelta(days=21)

    (item,) = due_items(until=told_from)

    assert (item.subject, item.recipient_id) == (f"lending.Loan:{loan.pk}", member.pk)
    assert (item.due_on, item.remind_on) == (loan.due_on, told_from)
    assert kinds(told_from - dt.timedelta(days=1)) == []


def test_a_closed_loan_is_not_due(loan, member):
    services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=member)

    assert kinds(dt.date(2030, 1, 1)) == []


def test_a_packet_to_collect_is_told_after_a_week(packet, member, lend):
    loan = lend(packet, by=member)

    (item,) = due_items(until=TODAY + dt.timedelta(days=7))

    assert (item.kind, item.recipient_id) == ("collect", member.pk)
    assert item.due_on == loan.lent_on + dt.timedelta(days=21)
    assert kinds(TODAY + dt.timedelta(days=6)) == []


def test_an_offer_is_told_to_the_desk_on_the_next_day(member, variety):
    deposit = services.propose_deposit(depositor=member, on=TODAY, variety=variety)

    (item,) = due_items(until=TODAY + dt.timedelta(days=1))

    assert (item.kind, item.role, item.recipient_id) == ("deposit", "desk", None)
    assert item.url == deposit.get_absolute_url()
    assert kinds(TODAY) == []


def test_an_announced_return_is_told_to_the_desk(loan, member):
    services.announce_return(
        member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026
    )

    item = next(iter(due_items(until=TODAY + dt.timedelta(days=1))))

    assert (item.kind, item.title) == ("return", "Announced: seed of Tarn Kettle")


@pytest.mark.parametrize("how_many", [1, 6])
def test_what_is_due_costs_the_same_however_much_there_is(
    make_lot, make_variety, member, lend, make_member, how_many, django_assert_num_queries
):
    for number in range(how_many):
        first, second = make_lot(make_variety(crop="drying bean"), packets=2).packets.all()
        person = make_member(f"person {number}")
        loan = lend(first, borrower=person)
        lend(second, borrower=person, by=person)
        services.propose_deposit(depositor=member, on=TODAY, variety=first.lot.variety)
        services.announce_return(
            member=person, loans=[loan], on=TODAY, by=person, harvest_year=2026
        )

    with django_assert_num_queries(5):
        items = list(due_items(until=dt.date(2030, 1, 1)))

    assert len(items) == 4 * how_many
