"""Offers, promises and how they end, through the services, pages and mail."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from django.db import connections

from library.errors import Conflict, NotAllowed, NotEnough, Refused
from library.growouts.commitments.replacing import replacement_for
from library.growouts.ending import end_what_was_promised
from library.growouts.models import Commitment, Milestone
from library.growouts.services import commitments as services
from library.growouts.services.milestones import growing_facts_of, report_milestone
from library.lending.models import LendingRules, Loan
from library.lending.services import hand_over, reserve_of, return_at_desk
from library.outbox.models import Message
from library.stock.checks import problems
from library.stock.models import Lot
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db

AUTUMN = dt.date(2026, 10, 20)
State = Commitment.State


def loans_of(commitment):
    return Loan.objects.filter(commitment_link__commitment=commitment)


# Offering ---------------------------------------------------------------------------------
def test_an_offer_tells_all_by_mail(offered, member):
    (mail,) = Message.objects.all()

    assert mail.to == member.email
    assert mail.subject == "Would you grow Tarn Kettle for seed in 2026?"
    for told in ("Plants to grow", "Sow ", "24 February 2026", "May 2026", "/grow-outs/"):
        assert told in mail.text


def test_an_offer_names_crop_and_cautions_in_the_growers_language(offer, member):
    member.language = "de"
    member.save()
    offer()

    (mail,) = Message.objects.all()
    assert "Tarn Kettle (Trockenbohne)" in mail.text
    assert "Rohe und nicht gar gekochte Bohnen machen krank" in mail.text
    assert "drying bean" not in mail.text


def test_an_offer_is_made_once_to_each_grower(offered, offer):
    with pytest.raises(Conflict, match="already"):
        offer()


def test_only_a_coordinator_offers(season, bean, garden, member):
    with pytest.raises(NotAllowed):
        services.offer(
            season=season, variety=bean, garden=garden, technique="bag", by=member, on=TODAY
        )


def test_a_hybrid_and_what_there_is_no_seed_of_are_not_offered(offer, make_variety):
    hybrid = make_variety("Quick Red", crop="tomato", breeding_status="f1")
    with pytest.raises(Refused, match="F1 hybrid"):
        offer(hybrid)
    with pytest.raises(Conflict, match="No seed"):
        offer(make_variety("Gone", crop="drying bean"))


# Answering --------------------------------------------------------------------------------
def test_a_promise_sets_packets_aside_and_writes_down_the_days(promised, member, coordinator):
    loans = list(loans_of(promised))
    steps = list(promised.milestones.values_list("kind", flat=True))

    assert sum(loan.packet.seeds for loan in loans) == promised.told["seeds"]
    assert {loan.borrower for loan in loans} == {member}
    assert {loan.handed_over_on for loan in loans} == {None}
    assert steps == [
        "sown", "stand", "rogued", "isolated", "harvested", "cleaned", "returned",
    ]  # fmt: skip
    back = promised.milestones.get(kind="returned")
    assert {loan.due_on for loan in loans} == {back.due_on}
    assert "grow-out" in loans[0].due_reason
    assert Message.objects.filter(to=coordinator.email).exists()
    assert list(problems()) == []


def test_the_days_follow_the_gardens_frost_and_come_in_order(promised):
    days = list(promised.milestones.order_by("step").values_list("due_on", flat=True))

    assert days[0] == dt.date(2026, 5, 24)  # two weeks after 10 May
    assert days == sorted(days)
    assert promised.milestones.get(kind="harvested").due_on == dt.date(2026, 9, 26)


def test_a_promise_may_use_the_reserve_and_an_ordinary_loan_may_not(
    offer, member, make_variety, make_lot
):
    LendingRules.objects.update_or_create(pk=1, defaults={"reserve_sowings": 10})
    few = make_variety("Few", crop="drying bean")
    make_lot(few, seeds=150, harvest_year=2025)
    assert reserve_of(few).lendable == 0

    promise = services.accept(commitment=offer(few), on=TODAY, by=member)

    assert loans_of(promise).exists()


def test_of_less_than_two_sowings_half_stays(offer, member, make_variety, make_lot):
    rare = make_variety("Last Jar", crop="drying bean")
    make_lot(rare, seeds=30, harvest_year=2025)

    promise = services.accept(commitment=offer(rare), on=TODAY, by=member)

    assert sum(loan.packet.seeds for loan in loans_of(promise)) == 15
    assert Lot.objects.get(variety=rare).balance == 15


def test_what_is_not_there_any_more_is_refused_and_stays_an_offer(offered, member, bean, desk):
    from library.stock.services import discard_rest

    for lot in Lot.objects.filter(variety=bean):
        discard_rest(lot=lot, on=TODAY, by=desk, reason="mice")

    with pytest.raises(NotEnough, match="No seed"):
        services.accept(commitment=offered, on=TODAY, by=member)

    offered.refresh_from_db()
    assert offered.is_offered
    assert not offered.milestones.exists()


def test_nobody_answers_for_somebody_else(offered, coordinator, other_member):
    for who in (coordinator, other_member):
        with pytest.raises(NotAllowed):
            services.accept(commitment=offered, on=TODAY, by=who)


def test_a_declined_offer_says_what_they_would_rather_grow(
    offered, member, make_variety, coordinator
):
    other = make_variety("Mill Loft", crop="drying bean")

    services.decline(commitment=offered, on=TODAY, by=member, note="no bed", suggested=other)

    offered.refresh_from_db()
    assert (offered.state, offered.suggested) == (State.DECLINED, other)
    assert "They would rather grow Mill Loft" in Message.objects.get(to=coordinator.email).text
    with pytest.raises(Conflict, match="declined"):
        services.accept(commitment=offered, on=TODAY, by=member)


def test_an_offer_lapses_after_its_last_day_and_not_on_it(offered, member):
    last = offered.answer_by

    assert services.lapse_unanswered(on=last) == 0
    with pytest.raises(Conflict, match="open until"):
        services.accept(commitment=offered, on=last + dt.timedelta(days=1), by=member)
    assert services.lapse_unanswered(on=last + dt.timedelta(days=1)) == 1


def test_calling_a_promise_off_puts_its_packets_back(promised, coordinator, bean, member):
    before = Lot.objects.get(variety=bean).balance

    services.withdraw(commitment=promised, on=TODAY, by=coordinator, reason="seed came")

    promised.refresh_from_db()
    assert promised.state == State.WITHDRAWN
    assert Lot.objects.get(variety=bean).balance > before
    assert list(problems()) == []


def test_what_was_handed_over_is_not_called_off(promised, coordinator, desk):
    for loan in loans_of(promised):
        hand_over(loan=loan, on=TODAY, by=desk)

    with pytest.raises(Conflict, match="handed over"):
        services.withdraw(commitment=promised, on=TODAY, by=coordinator, reason="no")


# Steps ------------------------------------------------------------------------------------
def step(commitment, kind: str) -> Milestone:
    return commitment.milestones.get(kind=kind)


def test_a_step_is_reported_and_corrected(promised, member):
    for counted in (180, 120):
        report_milestone(
            milestone=step(promised, "stand"), on=TODAY, today=TODAY, by=member, counted=counted
        )

    assert step(promised, "stand").done_on == TODAY
    assert step(promised, "stand").reports.count() == 2
    assert growing_facts_of(promised)["plants_stood"] == 120


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"on": TODAY + dt.timedelta(days=1)}, "what happened"),
        ({"on": dt.date(1999, 1, 1)}, "cannot have begun"),
        ({"on": TODAY, "counted": -1}, "whole number"),
        ({"on": TODAY, "counted": 10**9}, "whole number"),
        ({"on": TODAY, "note": "x" * 2001}, "2000"),
    ],
)
def test_what_cannot_be_is_not_reported(told, says, promised, member):
    with pytest.raises(Refused, match=says):
        report_milestone(milestone=step(promised, "sown"), today=TODAY, by=member, **told)

    assert not step(promised, "sown").reports.exists()


def test_only_the_grower_and_coordinators_report(promised, other_member):
    with pytest.raises(NotAllowed):
        report_milestone(
            milestone=step(promised, "sown"), on=TODAY, today=TODAY, by=other_member
        )


# Ends -------------------------------------------------------------------------------------
def bring_back(promised, desk, clock, **facts) -> Lot:
    loans = list(loans_of(promised))
    for loan in loans:
        hand_over(loan=loan, on=TODAY, by=desk)
    clock.move_to(dt.datetime(2026, 10, 20, 9, tzinfo=dt.UTC))
    return return_at_desk(
        loans=loans, on=AUTUMN, by=desk, harvest_year=2026, seeds=900, **facts
    )


def test_seed_that_comes_back_fulfils_it_and_makes_its_lot(promised, desk, bean, february):
    lot = bring_back(promised, desk, february)

    promised.refresh_from_db()
    assert (promised.state, promised.seed_return.lot) == (State.FULFILLED, lot)
    assert step(promised, "returned").done_on == AUTUMN
    assert lot.awaits_first_test
    assert lot.test_date.due_on > AUTUMN
    assert {link.parent.variety for link in lot.parent_links.all()} == {bean}


def test_a_part_of_the_seed_leaves_it_growing(promised, desk, february):
    bring_back(promised, desk, february, more_to_come=True)

    promised.refresh_from_db()
    assert promised.is_growing
    assert promised.seed_return is not None


def test_a_failed_crop_ends_its_loans_with_the_cause(promised, desk, member, coordinator):
    for loan in loans_of(promised):
        hand_over(loan=loan, on=TODAY, by=desk)

    services.fail(commitment=promised, cause="hail", note="in one night", on=TODAY, by=member)

    promised.refresh_from_db()
    assert (promised.state, promised.cause) == (State.FAILED, "hail")
    assert set(loans_of(promised).values_list("outcome", flat=True)) == {"crop_failed"}
    assert "hail" in Message.objects.filter(to=coordinator.email).last().text


def test_a_loan_closed_on_its_own_page_ends_the_promise_too(promised, desk, member):
    from library.lending.services import close_loan

    for loan in loans_of(promised):
        hand_over(loan=loan, on=TODAY, by=desk)
    for loan in loans_of(promised):
        close_loan(loan=loan, outcome="crop_failed", note="slugs", on=TODAY, by=member)

    promised.refresh_from_db()
    assert (promised.state, promised.cause, promised.outcome_note) == (
        State.FAILED,
        "other",
        "slugs",
    )


def test_packets_that_were_never_collected_call_it_off(promised, member):
    from library.lending.services import cancel_uncollected

    for loan in loans_of(promised):
        cancel_uncollected(loan=loan, on=TODAY, by=member)

    promised.refresh_from_db()
    assert promised.state == State.WITHDRAWN


def test_who_leaves_keeps_no_promise(promised, offer, member, make_variety, make_lot):
    other = make_variety("Mill Loft", crop="drying bean")
    make_lot(other, seeds=900)
    waiting = offer(other)

    end_what_was_promised(member=member, on=TODAY, by=member)

    waiting.refresh_from_db()
    promised.refresh_from_db()
    assert (waiting.state, promised.state) == (State.WITHDRAWN, State.WITHDRAWN)


# Replacement ------------------------------------------------------------------------------
@pytest.fixture
def failed(promised, member) -> Commitment:
    return services.fail(commitment=promised, cause="frost", on=TODAY, by=member)


def test_somebody_with_days_and_room_can_take_over(
    failed, make_offer, other_member, make_garden, coordinator, bean
):
    there = make_garden(other_member, last_spring_frost="05-10", first_autumn_frost="10-15")
    make_offer(other_member, garden=there, room_m2=60)
    early, late = dt.date(2026, 5, 13), dt.date(2026, 7, 20)

    found = replacement_for(failed, on=early)
    made = services.offer_replacement(failed=failed, garden=there, on=early, by=coordinator)

    assert [c.garden for c in found.candidates] == [there]
    assert found.days_needed == 125
    assert (made.replaces, made.grower) == (failed, other_member)
    assert replacement_for(failed, on=late).candidates == ()


def test_nobody_can_take_over_without_room(failed, make_offer, other_member, coordinator):
    offer = make_offer(other_member, room_m2="0.1")

    assert replacement_for(failed, on=dt.date(2026, 5, 13)).candidates == ()
    with pytest.raises(Conflict, match="cannot take over"):
        services.offer_replacement(
            failed=failed, garden=offer.garden, on=dt.date(2026, 5, 13), by=coordinator
        )


# Pages ------------------------------------------------------------------------------------
def test_the_grower_reads_and_accepts_on_the_page(client, member, offered):
    client.force_login(member)
    page = client.get(offered.get_absolute_url())
    answer = client.post(f"{offered.get_absolute_url()}accept/", {"note": "gladly"})

    assert "Yes, I will grow it" in page.content.decode()
    assert "What you must know" in page.content.decode()
    assert answer.status_code == 302
    assert "Step by step" in client.get(offered.get_absolute_url()).content.decode()


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_list_costs_the_same_however_long(
    how_many, as_, member, make_variety, make_commitment, django_assert_num_queries
):
    for _number in range(how_many):
        make_commitment(
            make_variety(), member, state="accepted", steps=(("sown", TODAY), ("stand", TODAY))
        )

    with django_assert_num_queries(6):
        answer = as_(member).get("/api/commitments/")

    assert answer.json()["count"] == how_many


# Races ------------------------------------------------------------------------------------
def at_once(*deeds) -> list[str]:
    start, said = threading.Barrier(len(deeds)), []

    def run(deed):
        start.wait()
        try:
            deed()
            said.append("done")
        except (Conflict, NotEnough):
            said.append("refused")
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(said)


@pytest.mark.django_db(transaction=True)
def test_of_two_clicks_at_once_one_promises(offered, member):
    def accept():
        services.accept(commitment=offered, on=TODAY, by=member)

    assert at_once(accept, accept, accept) == ["done", "refused", "refused"]
    assert list(problems()) == []


@pytest.mark.django_db(transaction=True)
def test_the_last_seed_goes_to_one_of_two_growers(
    offer, member, other_member, make_garden, make_variety, make_lot
):
    rare = make_variety("Last One", crop="drying bean")
    make_lot(rare, seeds=1, harvest_year=2025)
    first = offer(rare)
    second = offer(rare, make_garden(other_member))

    said = at_once(
        lambda: services.accept(commitment=first, on=TODAY, by=member),
        lambda: services.accept(commitment=second, on=TODAY, by=other_member),
    )

    assert said == ["done", "refused"]
    assert Lot.objects.get(variety=rare).balance == 0
