"""Offers and what growers answer; promises and how they end."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from accounts.roles import COORDINATE
from library.catalogue.models import BreedingStatus, Variety
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.commitments import mail
from library.growouts.commitments.dates import due_of, keep_milestones
from library.growouts.commitments.standing import letter_of, told_for, told_of
from library.growouts.commitments.telling import Told
from library.growouts.models import (
    Cause,
    Commitment,
    CommitmentLoan,
    GrowOutRules,
    Plan,
    Season,
)
from library.growouts.plans.single import doubts_about
from library.growouts.services.checks import (
    coordinates,
    locked_member,
    locked_open,
    own_or_coordinator,
)
from library.growouts.services.locking import locked, locked_with_loans
from library.lending.models import Loan
from library.lending.services.growouts import lend_for_growout, seeds_here
from library.lending.services.loans import cancel_uncollected, close_loan
from library.stock.models import Isolation
from library.stock.services.checks import fits

State = Commitment.State


@transaction.atomic
def offer(
    *,
    season: Season,
    variety: Variety,
    garden: Garden,
    technique: str,
    by: Member,
    on: dt.date,
    plan: Plan | None = None,
    replaces: Commitment | None = None,
    plants: int | None = None,
) -> Commitment:
    """Ask a grower to grow a variety in one of their gardens; they are told all by mail.

    Until they answer, at most for the days that the rules give, the garden counts as bound.
    """
    coordinates(by)
    grower = locked_member(garden.member)
    season = locked_open(season)
    _check_can_be_grown(variety, technique)
    told = told_for(season, variety, garden, technique, plants, on)
    if not seeds_here(variety):
        raise Conflict(
            _("No seed of %(variety)s is here that could be sown.") % {"variety": variety.name},
            field="variety",
        )
    commitment = _written(
        season=season,
        variety=variety,
        grower=grower,
        garden=garden,
        plan=plan,
        replaces=replaces,
        technique=technique,
        plants=told.plants,
        told=told.kept,
        offered_by=by,
        answer_by=on + dt.timedelta(days=GrowOutRules.current().answer_within_days),
    )
    mail.send_offer(commitment, lambda: letter_of(commitment, on))
    return commitment


@transaction.atomic
def ask_grower(
    *,
    season: Season,
    variety: Variety,
    garden: Garden,
    technique: str,
    by: Member,
    on: dt.date,
    plants: int | None = None,
    despite_doubts: bool = False,
) -> Commitment:
    """Offer one variety without a plan; Conflict with what a plan would hold against it, unless
    the coordinator knows better.
    """
    coordinates(by)
    locked_member(garden.member)
    season = locked_open(season)
    _check_can_be_grown(variety, technique)
    if not despite_doubts:
        doubts = doubts_about(
            season=season,
            variety=variety,
            garden=garden,
            technique=technique,
            plants=plants,
            on=on,
        )
        if doubts:
            doubts.append(_("If you know better, say that it is to be asked all the same."))
            raise Conflict(" ".join(doubts), field="despite_doubts")
    return offer(
        season=season,
        variety=variety,
        garden=garden,
        technique=technique,
        by=by,
        on=on,
        plants=plants,
    )


def guidance_of(commitment: Commitment, *, on: dt.date) -> Told:
    """What is told of an offer or a promise that stands; Conflict once it is over."""
    if not (commitment.is_offered or commitment.is_growing):
        raise _answered(commitment)
    return told_of(commitment, on=on)


def _check_can_be_grown(variety: Variety, technique: str) -> None:
    if variety.breeding_status == BreedingStatus.F1:
        raise Refused(
            _("%(name)s is an F1 hybrid: it cannot be renewed by growing it.")
            % {"name": variety.name},
            field="variety",
        )
    if technique not in Isolation.values:
        raise Refused(
            _("“%(technique)s” is no way of isolating; choose one of: %(known)s.")
            % {"technique": technique, "known": ", ".join(Isolation.values)},
            field="technique",
        )


def _written(**facts: Any) -> Commitment:
    try:
        with transaction.atomic():
            return Commitment.objects.create(**facts)
    except IntegrityError as error:
        raise Conflict(
            _("%(name)s was asked to grow %(variety)s in %(year)s already.")
            % {
                "name": facts["grower"].display_name,
                "variety": facts["variety"].name,
                "year": facts["season"].year,
            },
            field="variety",
        ) from error


@transaction.atomic
def accept(*, commitment: Commitment, on: dt.date, by: Member, note: str = "") -> Commitment:
    """The grower promises: packets are set aside and lent, and its days are written down.

    This may use the reserve. When there is no seed any more, it is refused and stays an offer.
    """
    _own(commitment, by)
    locked_member(by)
    commitment = locked(commitment)
    _check_offered(commitment, on)
    if commitment.garden is None:
        raise Conflict(_("The garden that it was meant for was removed; ask a coordinator."))
    commitment.state, commitment.answered_on = State.ACCEPTED, on
    commitment.answer_note = fits(note, field="note", most=2000)
    commitment.save(update_fields=["state", "answered_on", "answer_note"])
    milestones = keep_milestones(commitment, on=on)
    loans = lend_for_growout(
        variety=commitment.variety,
        borrower=commitment.grower,
        garden=commitment.garden,
        seeds=int(commitment.told.get("seeds") or commitment.plants),
        due=due_of(milestones),
        on=on,
        by=by,
        granted_by=_granted_by(commitment),
    )
    CommitmentLoan.objects.bulk_create(
        CommitmentLoan(commitment=commitment, loan=loan) for loan in loans
    )
    mail.send_answer(commitment)
    return commitment


def _granted_by(commitment: Commitment) -> Member:
    """The coordinator whose word the seed is lent on; any other where that one is none now."""
    by = commitment.offered_by
    if by is not None and by.is_approved and by.has_perm(COORDINATE):
        return by
    other = Member.objects.coordinators().order_by("pk").first()
    if other is None:
        raise Conflict(_("The library has no coordinator at present who could lend the seed."))
    return other


@transaction.atomic
def decline(
    *,
    commitment: Commitment,
    on: dt.date,
    by: Member,
    note: str = "",
    suggested: Variety | None = None,
) -> Commitment:
    """The grower will not, and may say what they would rather grow."""
    _own(commitment, by)
    commitment = locked(commitment)
    if not commitment.is_offered:
        raise _answered(commitment)
    if suggested is not None and suggested.pk == commitment.variety_id:
        raise Refused(_("That is the variety that was offered."), field="suggested")
    commitment.answered_on, commitment.suggested = on, suggested
    commitment.answer_note = fits(note, field="note", most=2000)
    _close(commitment, State.DECLINED, on, "answered_on", "suggested", "answer_note")
    mail.send_answer(commitment)
    return commitment


@transaction.atomic
def withdraw(*, commitment: Commitment, on: dt.date, by: Member, reason: str) -> Commitment:
    """A coordinator calls off an offer, or a promise before its seed was handed over."""
    coordinates(by)
    reason = fits(reason, field="reason", most=2000)
    if not reason:
        raise Refused(_("Say in a few words why; the grower reads it."), field="reason")
    commitment = locked_with_loans(commitment)
    if not (commitment.is_offered or commitment.is_growing):
        raise _answered(commitment)
    if _loans(commitment).filter(handed_over_on__isnull=False).exists():
        raise Conflict(
            _("Its seed was handed over already: it can fail or come back, not be called off.")
        )
    commitment.outcome_note = reason
    _close(commitment, State.WITHDRAWN, on, "outcome_note")
    for loan in _loans(commitment):
        cancel_uncollected(loan=loan, on=on, by=by)
    mail.send_withdrawn(commitment, reason)
    return commitment


@transaction.atomic
def lapse_unanswered(*, on: dt.date) -> int:
    """Offers whose last day has passed free the garden, and who made them is told; how many
    there were.
    """
    rows = list(
        Commitment.objects.unanswered(on)
        .select_related("season", "variety", "grower", "offered_by")
        .select_for_update(of=("self",), no_key=True)
        .order_by("pk")
    )
    for commitment in rows:
        _close(commitment, State.LAPSED, on)
        mail.send_lapsed(commitment)
    return len(rows)


@transaction.atomic
def fail(
    *, commitment: Commitment, cause: str, on: dt.date, by: Member, note: str = ""
) -> Commitment:
    """The crop gave no seed; an outcome like any other. Its loans end with it."""
    own_or_coordinator(commitment.grower, by)
    if cause not in Cause.values:
        raise Refused(
            _("“%(cause)s” is no such cause; say one of: %(known)s.")
            % {"cause": cause, "known": ", ".join(Cause.values)},
            field="cause",
        )
    commitment = locked_with_loans(commitment)
    if not commitment.is_growing:
        raise _answered(commitment)
    commitment.cause = cause
    commitment.outcome_note = fits(note, field="note", most=2000)
    _close(commitment, State.FAILED, on, "cause", "outcome_note")
    said = commitment.outcome_note or str(Cause(cause).label)
    for loan in _loans(commitment):
        if loan.is_collected:
            outcome = Loan.Outcome.CROP_FAILED
            close_loan(loan=loan, outcome=outcome, on=on, by=by, note=said)
        else:
            cancel_uncollected(loan=loan, on=on, by=by)
    mail.send_failed(commitment)
    return commitment


def _own(commitment: Commitment, by: Member) -> None:
    if commitment.grower_id != by.pk:
        raise NotAllowed(_("Only the grower who was asked can answer."))


def _check_offered(commitment: Commitment, on: dt.date) -> None:
    if not commitment.is_offered:
        raise _answered(commitment)
    if on > commitment.answer_by:
        raise Conflict(
            _("This offer was open until %(day)s; ask a coordinator to make it again.")
            % {"day": commitment.answer_by}
        )
    if commitment.season.is_over:
        raise Conflict(_("The season of %(year)s is over.") % {"year": commitment.season.year})


def _answered(commitment: Commitment) -> Conflict:
    return Conflict(
        _("This is not open any more: it is %(state)s.")
        % {"state": commitment.get_state_display()}
    )


def _close(commitment: Commitment, state: str, on: dt.date, *fields: str) -> None:
    commitment.state, commitment.closed_on = state, on
    commitment.save(update_fields=["state", "closed_on", *fields])


def _loans(commitment: Commitment):
    return Loan.objects.open().filter(commitment_link__commitment=commitment).order_by("pk")


@transaction.atomic
def offer_replacement(
    *, failed: Commitment, garden: Garden, on: dt.date, by: Member
) -> Commitment:
    """Ask the grower of a garden that still could to take over what failed."""
    from library.growouts.commitments.replacing import replacement_for

    coordinates(by)
    failed = locked(failed)
    if failed.state != State.FAILED:
        raise Conflict(_("Only what failed can be taken over; this is %(state)s.")
                       % {"state": failed.get_state_display()})  # fmt: skip
    if (taken := failed.replaced_by.taken_over().select_related("grower").first()) is not None:
        raise Conflict(
            _("%(name)s was asked to take over already: %(state)s.")
            % {"name": taken.grower.display_name, "state": taken.get_state_display()}
        )
    replacement = replacement_for(failed, on=on, most=1000)
    found = [one for one in replacement.candidates if one.garden.pk == garden.pk]
    if not found:
        raise Conflict(
            _("“%(garden)s” cannot take over %(variety)s any more this season.")
            % {"garden": garden.name, "variety": failed.variety.name},
            field="garden",
        )
    return offer(
        season=failed.season,
        variety=failed.variety,
        garden=garden,
        technique=found[0].technique,
        plants=failed.plants,
        replaces=failed,
        by=by,
        on=on,
    )
