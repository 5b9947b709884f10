"""Answers, ends and the last seed at one moment, on PostgreSQL; each beside a control.

A control takes away the locks that guard the rule and asks the same question: were it to pass,
the test beside it would show nothing.
"""

from __future__ import annotations

import threading
from unittest import mock

import pytest
from django.db import OperationalError, connection

from accounts.models import Member
from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.growouts import ending
from library.growouts.models import Commitment, Milestone
from library.growouts.services import commitments as services
from library.growouts.services.locking import locked
from library.lending.models import Loan
from library.lending.services import close_loan, hand_over
from library.lending.services import growouts as lending
from library.lending.services import loans as loan_services
from library.stock.checks import problems
from library.stock.models import Lot
from tests.growouts.conftest import TODAY
from tests.growouts.test_season_races import at_once, meeting, without_locking

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs PostgreSQL"),
]

State = Commitment.State


def loans_of(commitment):
    return Loan.objects.filter(commitment_link__commitment=commitment).order_by("pk")


def kinds(answers: list[object]) -> list[str]:
    return sorted("refused" if isinstance(a, Refused) else type(a).__name__ for a in answers)


# Accepting twice --------------------------------------------------------------------------
def two_clicks(offered, member) -> list[object]:
    def accept():
        return services.accept(commitment=offered, on=TODAY, by=member)

    with meeting(services, "_check_offered", 2):
        return at_once(accept, accept)


def test_of_two_clicks_one_promises(offered, member):
    assert kinds(two_clicks(offered, member)) == ["Commitment", "refused"]
    assert Milestone.objects.count() == 7
    assert sum(loan.packet.seeds for loan in loans_of(offered)) == offered.told["seeds"]
    assert list(problems()) == []


def test_control_two_clicks_without_locks_both_pass_the_question(offered, member):
    """Then only the steps, which are there once, stop the second with an error."""
    with without_locking(Commitment, Member):
        answers = two_clicks(offered, member)

    assert kinds(answers) == ["Commitment", "IntegrityError"]


# Two growers and the last seed ------------------------------------------------------------
@pytest.fixture
def two_offers(offer, other_member, make_garden, make_variety, make_lot):
    """Of thirty seeds half stays here: the first gets 15, the second half of what is left."""
    rare = make_variety("Last Jar", crop="drying bean")
    make_lot(rare, seeds=30, harvest_year=2025)
    return offer(rare), offer(rare, make_garden(other_member))


def both_accept(two_offers) -> list[object]:
    def accept(one):
        return services.accept(commitment=one, on=TODAY, by=one.grower)

    with meeting(lending, "lots_to_sow", 2):
        return at_once(*(lambda one=one: accept(one) for one in two_offers))


def test_of_the_last_seed_half_stays_though_two_reach_for_it(two_offers):
    assert kinds(both_accept(two_offers)) == ["Commitment", "Commitment"]
    assert Lot.objects.get(variety=two_offers[0].variety).balance == 8
    assert list(problems()) == []


def test_control_without_the_varietys_lock_nothing_stays(two_offers):
    with without_locking(Variety):
        assert kinds(both_accept(two_offers)) == ["Commitment", "Commitment"]

    assert Lot.objects.get(variety=two_offers[0].variety).balance == 0


def test_the_very_last_seed_goes_to_one(
    offer, other_member, make_garden, make_variety, make_lot
):
    rare = make_variety("Last One", crop="drying bean")
    make_lot(rare, seeds=1, harvest_year=2025)
    both = offer(rare), offer(rare, make_garden(other_member))

    assert kinds(both_accept(both)) == ["Commitment", "refused"]
    assert Lot.objects.get(variety=rare).balance == 0
    left = Commitment.objects.get(state=State.OFFERED)
    assert not left.milestones.exists()


# Accepting and calling off ----------------------------------------------------------------
def accept_and_withdraw(offered, member, coordinator) -> list[object]:
    """The coordinator calls it off after the grower's answer was looked at, and before it is
    written; where that is locked, they come after it.
    """
    looked, called_off = threading.Event(), threading.Event()
    real = services._check_offered

    def slowly(commitment, on):
        real(commitment, on)
        looked.set()
        called_off.wait(timeout=1)

    def withdraw():
        looked.wait(timeout=5)
        try:
            return services.withdraw(
                commitment=offered, on=TODAY, by=coordinator, reason="seed came"
            )
        finally:
            called_off.set()

    with mock.patch.object(services, "_check_offered", slowly):
        return at_once(
            lambda: services.accept(commitment=offered, on=TODAY, by=member), withdraw
        )


def is_coherent(offered) -> bool:
    """A promise has its packets out, and what was called off has none."""
    offered.refresh_from_db()
    out = loans_of(offered).filter(closed_on=None).exists()
    return out == (offered.state == State.ACCEPTED)


def test_accepting_and_calling_off_leave_no_packet_behind(offered, member, coordinator):
    answers = accept_and_withdraw(offered, member, coordinator)

    assert kinds(answers) in (["Commitment", "Commitment"], ["Commitment", "refused"])
    assert is_coherent(offered)
    assert list(problems()) == []


def test_control_without_the_commitments_lock_only_the_database_stops_it(
    offered, member, coordinator
):
    """What was called off cannot be promised, says a constraint; the grower gets an error."""
    with without_locking(Commitment, Loan):
        answers = accept_and_withdraw(offered, member, coordinator)

    assert kinds(answers) == ["Commitment", "IntegrityError"]


# Lapsing and accepting --------------------------------------------------------------------
def test_an_offer_that_lapses_while_it_is_accepted_is_one_or_the_other(offered, member):
    at_once(
        lambda: services.accept(commitment=offered, on=offered.answer_by, by=member),
        lambda: services.lapse_unanswered(on=offered.answer_by.replace(year=2027)),
    )

    assert is_coherent(offered)


# Two coordinators -------------------------------------------------------------------------
def test_two_coordinators_ask_a_grower_once(offer):
    answers = at_once(offer, offer)

    assert kinds(answers) == ["Commitment", "refused"]


def test_of_two_coordinators_one_finds_the_replacement(
    promised, member, coordinator, make_member, make_offer, make_garden, february
):
    failed = services.fail(commitment=promised, cause="frost", on=TODAY, by=member)
    places = []
    for name in ("dipper", "siskin"):
        grower = make_member(name)
        places.append(make_garden(grower))
        make_offer(grower, garden=places[-1], room_m2=60)

    def replace(garden):
        return services.offer_replacement(
            failed=failed, garden=garden, on=TODAY, by=coordinator
        )

    answers = at_once(*(lambda place=place: replace(place) for place in places))

    assert kinds(answers) == ["Commitment", "refused"]
    assert failed.replaced_by.count() == 1


# A failure told at two ends ---------------------------------------------------------------
def fail_at_two_ends(promised, member, desk) -> list[object]:
    """The grower says so of the promise, the desk of its last packet."""
    for loan in loans_of(promised):
        hand_over(loan=loan, on=TODAY, by=desk)
    *others, last = loans_of(promised)
    for loan in others:
        close_loan(loan=loan, outcome="crop_failed", note="mice", on=TODAY, by=desk)

    # Each holds its first row when it reaches for the other's.
    with (
        meeting(services, "locked_with_loans", 2),
        meeting(loan_services, "locked_open", 2),
    ):
        return at_once(
            lambda: services.fail(commitment=promised, cause="hail", on=TODAY, by=member),
            lambda: close_loan(
                loan=last, outcome="crop_failed", note="mice", on=TODAY, by=desk
            ),
        )


def test_a_failure_told_at_two_ends_stops_nobody_with_an_error(promised, member, desk):
    answers = fail_at_two_ends(promised, member, desk)

    assert kinds(answers) in (["Commitment", "refused"], ["Loan", "refused"])
    promised.refresh_from_db()
    assert promised.state == State.FAILED
    assert not loans_of(promised).filter(closed_on=None).exists()


def test_control_in_the_other_order_the_two_wait_for_each_other(promised, member, desk):
    with mock.patch.object(services, "locked_with_loans", locked):
        answers = fail_at_two_ends(promised, member, desk)

    assert any(isinstance(answer, OperationalError) for answer in answers)


def test_who_leaves_while_their_packet_is_closed_waits_for_nobody_in_a_circle(
    promised, member, desk
):
    loans = list(loans_of(promised))
    for loan in loans:
        hand_over(loan=loan, on=TODAY, by=desk)

    with meeting(ending, "all_locked_with_loans", 2), meeting(loan_services, "locked_open", 2):
        answers = at_once(
            lambda: _leave(member),
            lambda: close_loan(
                loan=loans[0], outcome="crop_failed", note="mice", on=TODAY, by=desk
            ),
        )

    assert not [a for a in answers if isinstance(a, OperationalError)]
    promised.refresh_from_db()
    assert promised.state == State.FAILED


def _leave(member):
    from accounts.services.leaving import leave

    return leave(member=member, by=member)


def test_a_row_that_was_accepted_between_the_two_looks_is_looked_at_again(offered, member):
    """Its loans were not there when they were to be locked."""
    from library.growouts.services import locking

    real, calls = locking._loans_of, []

    def later(keys):
        calls.append(keys)
        return real(keys) if len(calls) == 1 else {0}

    with mock.patch.object(locking, "_loans_of", later), pytest.raises(Conflict, match="again"):
        services.fail(commitment=offered, cause="hail", on=TODAY, by=member)
