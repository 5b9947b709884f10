"""Promises and their packets as they are now, locked in the one order of this app.

Members come before seasons, loans before the commitments they were lent under, and a commitment
before its milestones. A loan that is closed at the desk comes to its commitment in that order
too, so that two people who end the same promise at two ends never wait for each other.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from library.errors import Conflict
from library.growouts.models import Commitment, CommitmentLoan
from library.lending.models import Loan


def locked(commitment: Commitment) -> Commitment:
    """The commitment as it is now, locked, with what it is about."""
    return (
        Commitment.objects.select_for_update(of=("self",), no_key=True)
        .select_related(
            "season", "variety__crop__species", "grower", "garden", "offered_by", "suggested"
        )
        .get(pk=commitment.pk)
    )


def locked_with_loans(commitment: Commitment) -> Commitment:
    """The same, with all its loans locked before it."""
    return all_locked_with_loans([commitment.pk])[0]


def all_locked_with_loans(keys: Iterable[int]) -> list[Commitment]:
    """Commitments with their loans locked before them; Conflict where one was accepted between
    the two.
    """
    asked = sorted(keys)
    known = _loans_of(asked)
    rows = Loan.objects.select_for_update(of=("self",), no_key=True)
    list(rows.filter(pk__in=known).order_by("pk").values_list("pk"))
    found = [locked(Commitment(pk=key)) for key in asked]
    if _loans_of(asked) != known:
        raise Conflict(_("This was answered just now; look again."))
    return found


def _loans_of(commitments: list[int]) -> set[int]:
    links = CommitmentLoan.objects.filter(commitment__in=commitments)
    return set(links.values_list("loan", flat=True))
