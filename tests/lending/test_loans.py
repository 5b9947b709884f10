"""Lending a packet, and what becomes of a loan."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError
from django.db.transaction import atomic

from accounts.models import Garden, Membership
from library.catalogue.models import BreedingStatus
from library.errors import Conflict, NotAllowed, NotEnough, Refused
from library.lending import services
from library.lending.models import LendingRules, Loan
from library.lending.services import seasons
from library.stock.models import Packet
from library.stock.services import withhold
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


def test_the_desk_hands_a_packet_over_at_once(loan, packet, desk, member):
    packet.refresh_from_db()

    assert (loan.borrower, loan.lent_by, loan.handed_over_on) == (member, desk, TODAY)
    assert packet.state == Packet.State.LENT


def test_a_member_borrows_for_themselves_and_collects_later(packet, member, lend):
    loan = lend(packet, by=member)

    assert loan.handed_over_on is None


def test_a_lent_packet_leaves_the_balance_of_its_lot(loan, packet):
    packet.lot.refresh_from_db()

    assert (packet.lot.loose, packet.lot.packed) == (480, 0)


def test_a_member_cannot_borrow_for_somebody_else(packet, member, other_member, counts):
    before = counts()

    with pytest.raises(NotAllowed):
        services.lend_packet(packet=packet, borrower=other_member, by=member, on=TODAY)

    assert counts() == before


@pytest.mark.parametrize("membership", [Membership.APPLIED, Membership.LEFT])
def test_only_an_approved_member_borrows(packet, make_member, lend, membership, counts):
    person = make_member("nobody yet", membership=membership)
    before = counts()

    with pytest.raises(Refused, match="not an approved member"):
        lend(packet, borrower=person)

    assert counts() == before


def test_a_packet_that_is_out_is_not_lent_again(loan, packet, other_member, lend, counts):
    before = counts()

    with pytest.raises(Conflict, match=r"is not on the shelf: it is lent\."):
        lend(packet, borrower=other_member)

    assert counts() == before


def test_the_database_itself_keeps_a_packet_to_one_open_loan(loan, other_member):
    again = Loan(
        packet=loan.packet, borrower=other_member, lent_on=TODAY, due_on=TODAY, due_rule="x"
    )

    with pytest.raises(IntegrityError, match=r"one_open_per_packet|packet_id"), atomic():
        again.save()


@pytest.mark.parametrize("day", [dt.date(2026, 4, 17), dt.date(2025, 9, 30)])
def test_a_loan_happens_neither_in_the_future_nor_before_the_packet(packet, lend, day, counts):
    before = counts()

    with pytest.raises(Refused) as refusal:
        lend(packet, on=day)

    assert refusal.value.field == "on"
    assert counts() == before


def test_a_member_may_have_so_many_packets_out_and_no_more(make_packet, make_variety, lend):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 2})
    bean = "drying bean"
    packets = [make_packet(make_variety(crop=bean)) for _ in range(3)]
    for packet in packets[:2]:
        lend(packet)

    with pytest.raises(NotEnough, match="wren has 2 packets out; 2 is the most"):
        lend(packets[2])


def test_a_member_may_have_so_many_packets_of_one_variety(variety, make_lot, lend):
    first, second, third = make_lot(variety, packets=3).packets.all()
    lend(first)
    lend(second)

    with pytest.raises(NotEnough, match="2 packets of Tarn Kettle out"):
        lend(third)


def test_a_closed_loan_does_not_count_against_the_limit(variety, make_lot, lend, member):
    first, second, third = make_lot(variety, packets=3).packets.all()
    failed = lend(first)
    lend(second)
    services.close_loan(loan=failed, outcome="crop_failed", note="slugs", on=TODAY, by=member)

    loan = lend(third)

    assert loan.is_open


def test_a_lot_that_waits_for_its_first_test_is_not_lent(variety, make_packet, lend, counts):
    packet = make_packet(variety, awaits_first_test=True)
    before = counts()

    with pytest.raises(Conflict, match="waits for its first germination test"):
        lend(packet)

    assert counts() == before


def test_a_withheld_lot_is_not_lent(packet, lend, coordinator):
    withhold(lot=packet.lot, reason="it crossed", by=coordinator)

    with pytest.raises(Conflict, match="is withheld; choose another lot"):
        lend(packet)


def test_a_coordinator_lends_against_the_rules_with_a_reason(
    variety, make_packet, lend, coordinator
):
    packet = make_packet(variety, awaits_first_test=True)

    loan = lend(packet, by=coordinator, override_reason="grown for the test itself")

    assert loan.override_reason == "grown for the test itself"
    assert loan.events.get().why == "grown for the test itself"


def test_the_desk_cannot_lend_against_the_rules(variety, make_packet, lend, desk):
    packet = make_packet(variety, awaits_first_test=True)

    with pytest.raises(NotAllowed, match="Only a coordinator"):
        lend(packet, override_reason="please")


def test_even_a_coordinator_cannot_lend_the_reserve(variety, make_packet, lend, coordinator):
    packet = make_packet(variety, seeds=45)

    with pytest.raises(NotEnough, match="down to its reserve"):
        lend(packet, by=coordinator, override_reason="we need it")


def test_the_sentence_why_not_is_the_one_the_loan_is_refused_with(
    variety, make_packet, lend, member
):
    packet = make_packet(variety, seeds=45)

    foretold = services.why_not_lend(packet=packet, borrower=member)

    with pytest.raises(NotEnough) as refusal:
        lend(packet)
    assert foretold == str(refusal.value)


def test_nothing_is_foretold_of_a_packet_that_can_be_lent(packet, member):
    assert services.why_not_lend(packet=packet, borrower=member) == ""


def test_the_due_date_follows_the_default_garden(garden, valley, lend, packet, variety):
    loan = lend(packet)

    assert loan.garden == garden
    assert loan.due_on == seasons.due_date(variety=variety, garden=garden, on=TODAY).due_on


def test_without_a_garden_the_communitys_frosts_count(valley, lend, packet):
    """75 days assumed, 45 to ripen: sown 10 May, ripe 7 September, 60 days of grace."""
    loan = lend(packet)

    assert loan.due_on == dt.date(2026, 11, 6)
    assert loan.due_rule == "due_annual"


def test_where_no_frost_dates_are_known_a_year_is_given(lend, packet):
    loan = lend(packet)

    assert loan.due_on == dt.date(2027, 6, 14)
    assert loan.due_rule == "due_annual_garden_unknown"


def test_a_biennial_is_due_in_its_second_year(valley, make_variety, make_packet, lend):
    loan = lend(make_packet(make_variety(crop="carrot"), seeds=5000))

    assert loan.due_on.year == 2027
    assert loan.due_rule == "due_biennial"


def test_the_due_date_says_why_in_one_sentence(valley, lend, packet):
    loan = lend(packet)

    assert loan.due_reason == (
        "Lent on 15 April 2026 and sown about 10 May 2026, this annual has ripe seed about "
        "7 September 2026; 60 days more are for drying and cleaning."
    )


def test_a_garden_of_somebody_else_cannot_be_chosen(packet, lend, other_member, counts):
    theirs = Garden.objects.create(member=other_member, name="Behind the chapel")
    before = counts()

    with pytest.raises(Refused, match="not a garden of this member"):
        lend(packet, garden=theirs)

    assert counts() == before


def test_the_desk_hands_over_what_a_member_chose(packet, member, desk, lend):
    loan = lend(packet, by=member)

    loan = services.hand_over(loan=loan, on=TODAY, by=desk)

    assert loan.handed_over_on == TODAY


def test_a_packet_is_handed_over_once(loan, desk):
    with pytest.raises(Conflict, match="handed over already"):
        services.hand_over(loan=loan, on=TODAY, by=desk)


def test_a_member_hands_nothing_over(packet, member, lend):
    loan = lend(packet, by=member)

    with pytest.raises(NotAllowed):
        services.hand_over(loan=loan, on=TODAY, by=member)


def test_a_packet_that_was_not_collected_goes_back_on_the_shelf(packet, member, lend):
    loan = lend(packet, by=member)

    loan = services.cancel_uncollected(loan=loan, on=TODAY, by=member)

    packet.refresh_from_db()
    packet.lot.refresh_from_db()
    assert (loan.outcome, packet.state) == ("not_collected", "on_shelf")
    assert packet.lot.packed == 20


def test_what_was_handed_over_is_not_cancelled(loan, member, counts):
    before = counts()

    with pytest.raises(Conflict, match="handed over already"):
        services.cancel_uncollected(loan=loan, on=TODAY, by=member)

    assert counts() == before


def test_a_sealed_packet_is_taken_back_onto_the_shelf(loan, packet, desk, lend, other_member):
    loan = services.take_back_unopened(loan=loan, on=TODAY, by=desk)

    assert loan.outcome == "taken_back"
    assert lend(packet, borrower=other_member).is_open


@pytest.mark.parametrize(
    ("outcome", "note"), [("crop_failed", "hail in June"), ("nothing_to_return", "")]
)
def test_a_member_closes_a_loan_honestly(loan, member, outcome, note):
    loan = services.close_loan(loan=loan, outcome=outcome, note=note, on=TODAY, by=member)

    assert (loan.closed_on, loan.outcome, loan.outcome_note) == (TODAY, outcome, note)


def test_a_failed_crop_says_what_happened(loan, member, counts):
    before = counts()

    with pytest.raises(Refused, match="what happened"):
        services.close_loan(loan=loan, outcome="crop_failed", on=TODAY, by=member)

    assert counts() == before


@pytest.mark.parametrize("outcome", ["returned", "taken_back", "", "eaten"])
def test_a_loan_is_not_closed_with_another_word(loan, member, outcome):
    with pytest.raises(Refused, match="no such ending"):
        services.close_loan(loan=loan, outcome=outcome, note="x", on=TODAY, by=member)


def test_a_closed_loan_is_not_closed_again(loan, member, counts):
    services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=member)
    before = counts()

    with pytest.raises(Conflict, match="was closed on 15 April 2026: nothing to return"):
        services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=member)

    assert counts() == before


def test_another_member_closes_nothing(loan, other_member):
    with pytest.raises(NotAllowed):
        services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=other_member)


def test_a_loan_is_not_closed_before_it_was_made(loan, member):
    with pytest.raises(Refused, match="too early"):
        services.close_loan(
            loan=loan, outcome="nothing_to_return", on=TODAY - dt.timedelta(1), by=member
        )


def test_the_desk_gives_more_time_and_the_old_day_stays_readable(loan, desk):
    was, more = loan.due_on, dt.date(2027, 11, 1)

    loan = services.extend_loan(loan=loan, due_on=more, reason="sown late", on=TODAY, by=desk)

    event = loan.events.last()
    assert (event.was_due_on, event.now_due_on, event.why) == (was, more, "sown late")
    assert loan.due_on == more


def test_more_time_needs_a_reason(loan, desk):
    with pytest.raises(Refused) as refusal:
        services.extend_loan(
            loan=loan, due_on=dt.date(2027, 11, 1), reason=" ", on=TODAY, by=desk
        )

    assert refusal.value.field == "reason"


@pytest.mark.parametrize("due_on", [dt.date(2026, 4, 14), dt.date(2033, 1, 1), dt.date.max])
def test_a_due_date_that_cannot_be_meant_is_refused(loan, desk, due_on):
    with pytest.raises(Refused) as refusal:
        services.extend_loan(loan=loan, due_on=due_on, reason="why not", on=TODAY, by=desk)

    assert str(refusal.value) == (
        "A loan of 15 April 2026 can be due from that day to 31 December 2032, not "
        f"{due_on.day} {due_on:%B} {due_on.year}."
    )


def test_another_garden_changes_the_due_date(loan, garden, member):
    other = Garden.objects.create(
        member=member, name="Cold field", last_spring_frost="06-10", first_autumn_frost="10-01"
    )

    loan = services.change_garden(loan=loan, garden=other, on=TODAY, by=member)

    assert loan.due_on == dt.date(2026, 11, 30)
    assert [event.what for event in loan.events.all()] == [
        "lent",
        "garden_changed",
        "due_date_changed",
    ]


def test_lending_an_f1_warns_of_what_its_seed_will_be(make_variety):
    hybrid = make_variety(breeding_status=BreedingStatus.F1)

    guidance = services.guidance_for(variety=hybrid, lot=None, garden=None, on=TODAY)

    assert guidance.warnings[0].startswith("This is an F1 hybrid")


def test_the_history_of_a_loan_is_complete(packet, member, desk, lend):
    loan = lend(packet, by=member)
    services.hand_over(loan=loan, on=TODAY, by=desk)
    services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=member)

    assert [event.what for event in loan.events.all()] == ["lent", "handed_over", "closed"]
