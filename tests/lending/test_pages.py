"""The desk, one's own seed, and the rules, as pages."""

from __future__ import annotations

import pytest
from django.urls import reverse

from library.lending import services
from library.lending.models import LendingRules, Loan
from tests.lending.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db


def test_my_seed_shows_mine_and_nobody_elses(client, loan, other_member, member, packet):
    client.force_login(member)
    mine = text_of(client.get("/my-seed/"))
    client.force_login(other_member)
    theirs = text_of(client.get("/my-seed/"))

    assert packet.code in mine
    assert packet.code not in theirs


def test_a_coordinator_changes_the_rules_and_anyone_reads_them(as_coordinator, client):
    as_coordinator.post(
        "/lending/rules/",
        {
            "max_open_loans": "7",
            "max_packets_of_variety": "1",
            "grace_days": "45",
            "reserve_sowings": "3",
            "expected_losses_percent": "50",
            "exchange_notice": "Bring what you would like to get.",
        },
    )
    client.logout()

    page = text_of(client.get("/exchange/"))

    assert LendingRules.current().max_open_loans == 7
    assert LendingRules.current().expected_losses_percent == 50
    assert "A member may have 7 packets out at a time, 1 of one variety." in page
    assert "Bring what you would like to get." in page


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("max_open_loans", "0"),
        ("reserve_sowings", "11"),
        ("grace_days", "-1"),
        ("max_open_loans", "99999999"),
        ("grace_days", "1.5"),
    ],
)
def test_rules_that_cannot_be_are_refused(as_coordinator, field, value):
    rules = {
        "max_open_loans": "7",
        "max_packets_of_variety": "1",
        "grace_days": "45",
        "reserve_sowings": "3",
    }

    response = as_coordinator.post("/lending/rules/", rules | {field: value})

    assert response.status_code == 400
    assert LendingRules.current().max_open_loans == 12


DESK_ONLY = [
    "desk",
    "desk-members",
    "deposit-at-desk",
    "return-at-desk",
    "lending-rules",
]


@pytest.mark.parametrize("name", DESK_ONLY)
def test_a_member_does_not_find_the_pages_of_the_desk(as_member, name):
    assert as_member.get(reverse(name)).status_code == 404


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_desk_costs_the_same_however_much_waits(
    as_desk,
    make_lot,
    make_variety,
    member,
    make_member,
    lend,
    how_many,
    django_assert_num_queries,
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for number in range(how_many):
        bean = make_variety(crop="drying bean")
        chosen, out, back = make_lot(bean, seeds=600, packets=3).packets.all()
        person = make_member(f"person {number}")
        lend(chosen, borrower=person, by=person)
        lend(out, borrower=member)
        returning = lend(back, borrower=person)
        services.propose_deposit(depositor=member, on=TODAY, variety=bean)
        services.announce_return(
            member=person, loans=[returning], on=TODAY, by=person, harvest_year=2026
        )
    Loan.objects.filter(borrower=member).update(lent_on="2025-10-02", due_on="2026-01-01")

    with django_assert_num_queries(DESK_QUERIES):
        page = as_desk.get(f"/desk/?member={member.pk}")

    assert len(page.context["deposits"]) == how_many
    assert len(page.context["returns"]) == how_many


@pytest.mark.parametrize("how_many", [1, 6])
def test_my_seed_costs_the_same_however_much_there_is(
    as_member, make_lot, make_variety, member, lend, how_many, django_assert_num_queries
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for _ in range(how_many):
        bean = make_variety(crop="drying bean")
        first, second = make_lot(bean, seeds=600, packets=2).packets.all()
        lend(first)
        past = lend(second)
        services.propose_deposit(depositor=member, on=TODAY, variety=bean)
        services.return_at_desk(
            loans=[past], on=TODAY, by=past.lent_by, harvest_year=2026, seeds=50
        )

    with django_assert_num_queries(MY_SEED_QUERIES):
        page = as_member.get("/my-seed/")

    assert len(page.context["grown"]) == how_many


DESK_QUERIES = 13
MY_SEED_QUERIES = 15


def test_at_the_desk_a_packet_that_is_out_says_so_before_anybody_is_chosen(
    as_desk, packet, lend
):
    lend(packet)

    page = as_desk.get(reverse("loan-new"), {"packet": packet.code})

    assert f"Packet {packet.code} is not on the shelf: it is lent." in text_of(page)
