"""Where promises end elsewhere: at the desk, on a loan's page, with a member who leaves."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.services.leaving import leave
from library.errors import Conflict
from library.growouts.models import Commitment
from library.growouts.pictures.story import story_of
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.lending.models import Loan
from library.lending.services import (
    announce_return,
    cancel_uncollected,
    change_garden,
    close_loan,
    extend_loan,
    hand_over,
    hand_over_together,
    lend_packet,
    receive_return,
    return_at_desk,
    take_back_unopened,
)
from library.outbox.models import Message
from library.stock.checks import problems
from library.stock.models import Lot
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db

AUTUMN = dt.date(2026, 10, 20)
State = Commitment.State


def loans_of(commitment) -> list[Loan]:
    links = commitment.lent.select_related("loan__packet__lot", "loan__borrower")
    return [link.loan for link in links.order_by("pk")]


@pytest.fixture
def handed_over(promised, desk) -> Commitment:
    """Its packets, two at least, are with the grower."""
    loans = loans_of(promised)
    assert len(loans) >= 2
    for loan in loans:
        hand_over(loan=loan, on=TODAY, by=desk)
    return promised


@pytest.fixture
def autumn(february):
    def travel() -> dt.date:
        february.move_to(dt.datetime(2026, 10, 20, 9, tzinfo=dt.UTC))
        return AUTUMN

    return travel


def letters_to(reader) -> list[str]:
    return [f"{m.subject} {m.text}" for m in Message.objects.filter(to=reader.email)]


# Seed of a part ---------------------------------------------------------------------------
def test_seed_of_one_packet_and_a_failure_of_the_rest_fulfil_it(handed_over, desk, autumn):
    first, *rest = loans_of(handed_over)
    on = autumn()
    lot = return_at_desk(loans=[first], on=on, by=desk, harvest_year=2026, seeds=300)
    handed_over.refresh_from_db()
    assert handed_over.is_growing

    for loan in rest:
        close_loan(loan=loan, outcome="crop_failed", note="mice", on=on, by=desk)

    handed_over.refresh_from_db()
    assert (handed_over.state, handed_over.seed_return.lot) == (State.FULFILLED, lot)
    assert handed_over.milestones.get(kind="returned").done_on == on


def test_a_failure_of_one_packet_and_seed_of_the_rest_fulfil_it(handed_over, desk, autumn):
    first, *rest = loans_of(handed_over)
    on = autumn()
    close_loan(loan=first, outcome="crop_failed", note="mice", on=on, by=desk)

    return_at_desk(loans=rest, on=on, by=desk, harvest_year=2026, seeds=300)

    handed_over.refresh_from_db()
    assert handed_over.state == State.FULFILLED


def test_two_parts_fulfil_it_once_the_last_is_in(handed_over, desk, autumn):
    loans, on = loans_of(handed_over), autumn()
    return_at_desk(loans=loans, on=on, by=desk, harvest_year=2026, seeds=300, more_to_come=True)
    handed_over.refresh_from_db()
    assert handed_over.is_growing

    last = return_at_desk(loans=loans, on=on, by=desk, harvest_year=2026, seeds=50)

    handed_over.refresh_from_db()
    assert (handed_over.state, handed_over.seed_return.lot) == (State.FULFILLED, last)


def test_seed_that_was_announced_and_received_fulfils_it(handed_over, member, desk, autumn):
    on = autumn()
    announced = announce_return(
        member=member, loans=loans_of(handed_over), on=on, by=member, harvest_year=2026
    )
    handed_over.refresh_from_db()
    assert handed_over.is_growing

    receive_return(seed_return=announced, on=on, by=desk, seeds=200)

    handed_over.refresh_from_db()
    assert handed_over.state == State.FULFILLED
    assert handed_over.seed_return == announced


def test_what_is_announced_cannot_fail_meanwhile(handed_over, member, autumn):
    on = autumn()
    announce_return(
        member=member, loans=loans_of(handed_over), on=on, by=member, harvest_year=2026
    )

    with pytest.raises(Conflict, match="announced"):
        services.fail(commitment=handed_over, cause="hail", on=on, by=member)

    handed_over.refresh_from_db()
    assert handed_over.is_growing


# Without seed -----------------------------------------------------------------------------
def test_packets_brought_back_unopened_call_it_off_and_the_coordinator_hears(
    handed_over, desk, coordinator, bean
):
    for loan in loans_of(handed_over):
        take_back_unopened(loan=loan, on=TODAY, by=desk)

    handed_over.refresh_from_db()
    assert handed_over.state == State.WITHDRAWN
    assert any("after all" in letter for letter in letters_to(coordinator))
    assert Lot.objects.get(variety=bean).balance == 400
    assert list(problems()) == []


def test_the_last_packet_decides(handed_over, desk):
    first, *rest = loans_of(handed_over)
    take_back_unopened(loan=first, on=TODAY, by=desk)
    handed_over.refresh_from_db()
    assert handed_over.is_growing

    for loan in rest:
        close_loan(loan=loan, outcome="crop_failed", note="hares", on=TODAY, by=desk)

    handed_over.refresh_from_db()
    assert (handed_over.state, handed_over.outcome_note) == (State.FAILED, "hares")


def test_a_failure_told_on_the_loans_page_reaches_the_coordinator(
    handed_over, member, coordinator
):
    for loan in loans_of(handed_over):
        close_loan(loan=loan, outcome="crop_failed", note="hares", on=TODAY, by=member)

    (letter,) = [one for one in letters_to(coordinator) if "crop failed" in one]
    assert "hares" in letter


def test_who_cancels_unfetched_packets_is_not_told_what_they_did(promised, coordinator):
    for loan in loans_of(promised):
        cancel_uncollected(loan=loan, on=TODAY, by=coordinator)

    promised.refresh_from_db()
    assert promised.state == State.WITHDRAWN
    assert not any("after all" in letter for letter in letters_to(coordinator))


# A member leaves --------------------------------------------------------------------------
def test_who_leaves_before_fetching_gives_the_packets_back(promised, member, bean, coordinator):
    leave(member=member, by=member)

    promised.refresh_from_db()
    assert promised.state == State.WITHDRAWN
    assert {loan.outcome for loan in loans_of(promised)} == {"not_collected"}
    assert Lot.objects.get(variety=bean).balance == 400
    assert any("after all" in letter for letter in letters_to(coordinator))
    assert list(problems()) == []


def test_what_grows_with_who_leaves_has_failed_and_its_packets_are_closed(
    handed_over, member, coordinator
):
    leave(member=member, by=coordinator)

    handed_over.refresh_from_db()
    assert (handed_over.state, handed_over.cause) == (State.FAILED, "illness")
    assert {loan.outcome for loan in loans_of(handed_over)} == {"nothing_to_return"}
    assert handed_over.garden is None
    assert any("crop failed" in letter for letter in letters_to(coordinator))


def test_seed_at_the_door_of_who_leaves_still_comes_in(handed_over, member, desk, autumn):
    on = autumn()
    announced = announce_return(
        member=member, loans=loans_of(handed_over), on=on, by=member, harvest_year=2026
    )

    leave(member=member, by=member)
    receive_return(seed_return=announced, on=on, by=desk, seeds=120)

    handed_over.refresh_from_db()
    assert handed_over.state == State.FULFILLED


def test_an_offer_to_who_leaves_is_called_off(offered, member):
    leave(member=member, by=member)

    offered.refresh_from_db()
    assert offered.state == State.WITHDRAWN


# The loan follows the promise -------------------------------------------------------------
def test_a_packet_of_a_promise_is_not_grown_in_another_garden(handed_over, member, make_garden):
    with pytest.raises(Conflict, match="promised in that garden"):
        change_garden(
            loan=loans_of(handed_over)[0], garden=make_garden(member), on=TODAY, by=member
        )


def test_more_time_at_the_desk_moves_the_last_step(handed_over, desk):
    later = dt.date(2027, 2, 1)

    for loan in loans_of(handed_over):
        extend_loan(loan=loan, due_on=later, reason="wet autumn", on=TODAY, by=desk)

    step = handed_over.milestones.get(kind="returned")
    assert (step.due_on, step.rule) == (later, "milestone_moved")


def test_the_page_says_why_the_last_step_moved(handed_over, desk, as_member):
    for loan in loans_of(handed_over):
        extend_loan(
            loan=loan, due_on=dt.date(2027, 2, 1), reason="wet autumn", on=TODAY, by=desk
        )

    page = as_member.get(handed_over.get_absolute_url()).content.decode()

    assert "the desk gave more time: wet autumn" in page


# The form of the return -------------------------------------------------------------------
def test_the_return_begins_with_what_was_reported(handed_over, member, client, autumn):
    on = autumn()
    client.force_login(member)
    for kind, told in [
        ("sown", {"counted": 60}),
        ("stand", {"counted": 41}),
        ("rogued", {"counted": 2, "note": "flat pods"}),
        ("isolated", {"neighbour": "a runner bean", "neighbour_m": 90}),
        ("harvested", {"counted": 37}),
    ]:
        report_milestone(
            milestone=handed_over.milestones.get(kind=kind), on=on, today=on, by=member, **told
        )

    page = client.get(f"/returns/new/?loan={loans_of(handed_over)[0].pk}")

    form = page.context["form"]
    told = {name: form[name].value() for name in form.fields}
    assert told["plants_sown"] == 60
    assert told["plants_stood"] == 41
    assert told["plants_gave_seed"] == 37
    assert told["roguing"] == "2 plants taken out; flat pods"
    assert told["crossing_neighbour"] == "a runner bean"
    assert told["isolation_distance_m"] == 90
    assert told["isolation"] == "distance"
    assert told["garden"] == handed_over.garden_id


def test_an_ordinary_return_begins_empty(as_member, member, make_packet, desk):
    from library.lending.services import lend_packet

    loan = lend_packet(packet=make_packet(), borrower=member, on=TODAY, by=desk)

    page = as_member.get(f"/returns/new/?loan={loan.pk}")

    assert not page.context["form"]["plants_stood"].value()


# All packets of one promise together ------------------------------------------------------
def test_the_desk_hands_all_packets_of_a_promise_over_at_once(promised, desk):
    first, *rest = loans_of(promised)
    assert rest

    together = hand_over_together(loan=first, on=TODAY, by=desk)

    assert [loan.pk for loan in together] == [loan.pk for loan in loans_of(promised)]
    assert all(loan.is_collected for loan in loans_of(promised))


def test_a_packet_that_nobody_promised_goes_alone(bean, make_lot, make_member, desk, promised):
    packet = make_lot(bean, seeds=400, packets=1, seeds_each=20).packets.get()
    lark = make_member("lark")
    loan = lend_packet(packet=packet, borrower=lark, on=TODAY, by=lark)

    assert hand_over_together(loan=loan, on=TODAY, by=desk) == [loan]
    assert not any(each.is_collected for each in loans_of(promised))


def test_the_form_of_the_return_names_all_packets_that_are_out(handed_over, client, member):
    client.force_login(member)
    first = loans_of(handed_over)[0]

    page = client.get(f"/returns/new/?loan={first.pk}")

    ticked = page.context["form"].initial["loans"]
    assert sorted(ticked) == [loan.pk for loan in loans_of(handed_over)]


def test_lots_of_all_parts_are_told(handed_over, desk, autumn, client, member):
    loans, on = loans_of(handed_over), autumn()
    parts = [
        return_at_desk(
            loans=loans, on=on, by=desk, harvest_year=2026, seeds=seeds, more_to_come=more
        )
        for seeds, more in ((300, True), (50, False))
    ]
    client.force_login(member)

    told = client.get(f"/api/commitments/{handed_over.pk}/").json()
    page = client.get(handed_over.get_absolute_url()).content.decode()

    assert told["lots"] == [lot.number for lot in parts]
    assert all(lot.number in page for lot in parts)
    (row,) = story_of(handed_over.season, viewer=member, on=on).varieties
    assert [lot.number for lot in row.lots] == [lot.number for lot in parts]
