"""How promises end with what happens elsewhere: a loan, a return, a member who leaves.

Seed that came back fulfils a promise once no packet of it is out any more, also where the rest
was written off. Packets that were never opened call it off; packets that gave nothing are a
failed crop. Who leaves keeps no promise.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from accounts.models import Member
from library.growouts.commitments import mail
from library.growouts.models import Cause, Commitment, Milestone
from library.growouts.services.locking import all_locked_with_loans
from library.growouts.services.milestones import growing_facts_of
from library.lending.models import Loan, Return
from library.lending.services.loans import cancel_uncollected, close

State, Outcome = Commitment.State, Loan.Outcome
UNOPENED = {Outcome.NOT_COLLECTED, Outcome.TAKEN_BACK}


def close_what_came_back(*, seed_return: Return, loans: Iterable[Loan], on: dt.date) -> None:
    """Seed of a promise is on the shelf: it is fulfilled, unless only a part came."""
    keys = {loan.pk for loan in loans}
    closes = {link.loan_id for link in seed_return.loan_links.all() if link.closes}
    for commitment in _growing(keys):
        commitment.seed_return = seed_return
        commitment.save(update_fields=["seed_return"])
        if not _open_loans(commitment).exclude(pk__in=closes).exists():
            _fulfil(commitment, on)


def close_what_ended(*, loan: Loan, on: dt.date, by: Member | None) -> None:
    """All packets of a promise ended without more seed, on a loan's page or at the desk."""
    for commitment in _growing({loan.pk}):
        if _open_loans(commitment).exists():
            continue
        outcomes = set(
            Loan.objects.filter(commitment_link__commitment=commitment).values_list(
                "outcome", flat=True
            )
        )
        if commitment.seed_return_id:  # a part of it came before
            _fulfil(commitment, on)
        elif outcomes <= UNOPENED:
            _close(commitment, State.WITHDRAWN, on)
            mail.send_called_off(commitment, by)
        else:
            commitment.cause, commitment.outcome_note = Cause.OTHER, loan.outcome_note
            _close(commitment, State.FAILED, on, "cause", "outcome_note")
            mail.send_failed(commitment)


def end_what_was_promised(*, member: Member, on: dt.date, by: Member) -> None:
    """Who leaves keeps no promise. Offers are called off, and so are promises of which no
    packet was fetched: those go back on the shelf. What grew counts as failed, and its packets
    are written off; only what is announced to come in is still waited for.
    """
    open_ = Commitment.objects.open().of(member).order_by("pk")
    for commitment in all_locked_with_loans(open_.values_list("pk", flat=True)):
        loans = list(_open_loans(commitment))
        if any(loan.waiting_return() for loan in loans):
            continue
        if commitment.is_offered or not any(loan.is_collected for loan in loans):
            _close(commitment, State.WITHDRAWN, on)
            mail.send_called_off(commitment, by)
        elif commitment.is_growing:
            commitment.cause = Cause.ILLNESS
            _close(commitment, State.FAILED, on, "cause")
            mail.send_failed(commitment)
        for loan in loans:
            if loan.is_collected:
                close(loan, Outcome.NOTHING_TO_RETURN, on=on, by=by)
            else:
                cancel_uncollected(loan=loan, on=on, by=by)


def follow_due_date(*, loan: Loan, why: str) -> None:
    """The desk gave a packet more time, so its promise has more: as its last loan has."""
    for commitment in _growing({loan.pk}):
        last = max(_open_loans(commitment).values_list("due_on", flat=True))
        step = commitment.milestones.filter(kind=Milestone.Kind.RETURNED).first()
        if step is None or step.due_on == last:
            continue
        step.inputs = {"was_due_on": step.due_on.isoformat(), "why": why}
        step.due_on, step.rule = last, "milestone_moved"
        step.save(update_fields=["due_on", "rule", "inputs"])


def growing_of_loan(*, loan: Loan) -> dict[str, Any]:
    """What was reported of a grow-out, for the form of its return, which answers all its
    packets that are out.
    """
    row = Commitment.objects.filter(lent__loan=loan).first()
    if row is None:
        return {}
    out = _open_loans(row).filter(handed_over_on__isnull=False)
    told = growing_facts_of(row) | {"loans": list(out.values_list("pk", flat=True))}
    return told | ({"garden": row.garden_id} if row.garden_id else {})


def promise_of(loan: Loan) -> Commitment | None:
    """The promise that a packet was lent under, while it stands."""
    return Commitment.objects.growing().filter(lent__loan=loan).first()


def _growing(loans: set[int]):
    rows = Commitment.objects.growing().filter(lent__loan__in=loans)
    keys = list(rows.order_by("pk").values_list("pk", flat=True).distinct())
    locked = Commitment.objects.filter(pk__in=keys, state=State.ACCEPTED)
    locked = locked.select_related("variety", "season", "grower", "offered_by")
    return locked.select_for_update(of=("self",), no_key=True).order_by("pk")


def _open_loans(commitment: Commitment):
    return Loan.objects.open().filter(commitment_link__commitment=commitment).order_by("pk")


def _fulfil(commitment: Commitment, on: dt.date) -> None:
    done = Milestone.objects.filter(commitment=commitment, done_on=None)
    done.filter(kind__in=["harvested", "cleaned", "returned"]).update(done_on=on)
    _close(commitment, State.FULFILLED, on)


def _close(commitment: Commitment, state: str, on: dt.date, *fields: str) -> None:
    commitment.state, commitment.closed_on = state, on
    commitment.save(update_fields=["state", "closed_on", *fields])
