"""How promises end with what happens elsewhere: a loan, a return, a member who leaves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from accounts.models import Member
from library.growouts.models import Cause, Commitment, Milestone
from library.lending.models import Loan, Return

State, Outcome = Commitment.State, Loan.Outcome


def close_what_came_back(*, seed_return: Return, loans: Iterable[Loan], on: dt.date) -> None:
    """Seed of a promise is on the shelf: it is fulfilled, unless only a part came."""
    keys = {loan.pk for loan in loans}
    closes = {link.loan_id for link in seed_return.loan_links.all() if link.closes}
    for commitment in _growing(keys):
        commitment.seed_return = seed_return
        commitment.save(update_fields=["seed_return"])
        still_out = _open_loans(commitment).exclude(pk__in=closes)
        if still_out.exists():
            continue
        done = Milestone.objects.filter(commitment=commitment, done_on=None)
        done.filter(kind__in=["harvested", "cleaned", "returned"]).update(done_on=on)
        _close(commitment, State.FULFILLED, on)


def close_what_ended(*, loan: Loan, on: dt.date, by: Member | None) -> None:
    """All packets of a promise ended without seed: on the loan's own page, or at the desk."""
    for commitment in _growing({loan.pk}):
        if _open_loans(commitment).exists():
            continue
        outcomes = set(
            Loan.objects.filter(commitment_link__commitment=commitment).values_list(
                "outcome", flat=True
            )
        )
        if Outcome.RETURNED in outcomes:
            continue  # what came back closes it
        if commitment.seed_return_id:  # a part of it came before
            _close(commitment, State.FULFILLED, on)
        elif outcomes <= {Outcome.NOT_COLLECTED, Outcome.TAKEN_BACK}:
            _close(commitment, State.WITHDRAWN, on)
        else:
            commitment.cause, commitment.outcome_note = Cause.OTHER, loan.outcome_note
            _close(commitment, State.FAILED, on, "cause", "outcome_note")


def end_what_was_promised(*, member: Member, on: dt.date, by: Member | None) -> None:
    """Who leaves keeps no promise: offers are called off, and what grew counts as failed."""
    for commitment in Commitment.objects.open().of(member).select_for_update(no_key=True):
        if commitment.is_offered:
            _close(commitment, State.WITHDRAWN, on)
        else:
            commitment.cause = Cause.ILLNESS
            _close(commitment, State.FAILED, on, "cause")


def _growing(loans: set[int]):
    rows = Commitment.objects.growing().filter(lent__loan__in=loans)
    keys = list(rows.order_by("pk").values_list("pk", flat=True).distinct())
    return Commitment.objects.filter(pk__in=keys).select_for_update(no_key=True).order_by("pk")


def _open_loans(commitment: Commitment):
    return Loan.objects.open().filter(commitment_link__commitment=commitment)


def _close(commitment: Commitment, state: str, on: dt.date, *fields: str) -> None:
    commitment.state, commitment.closed_on = state, on
    commitment.save(update_fields=["state", "closed_on", *fields])
