"""What grow-outs follow of the apps below: gardens and members that go, loans that end."""

from __future__ import annotations

from typing import Any

from django.db.models import Count
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library import hooks
from library.errors import Conflict
from library.growouts.ending import (
    close_what_came_back,
    close_what_ended,
    end_what_was_promised,
    follow_due_date,
    growing_of_loan,
    promise_of,
)
from library.growouts.export import known_of
from library.growouts.models import Commitment, GrowerOffer
from library.lending.models import Loan


def register() -> None:
    hooks.follow("garden_goes", let_garden_go)
    hooks.follow("member_leaves", forget_offers)
    hooks.follow("member_leaves", end_what_was_promised)
    hooks.follow("seed_returned", close_what_came_back)
    hooks.follow("loan_closed", close_what_ended)
    hooks.follow("loan_garden_changes", keep_to_the_garden)
    hooks.follow("loan_due_changed", follow_due_date)
    hooks.follow("growing_of_loan", growing_of_loan)
    hooks.follow("goes_with_loan", packets_together)
    hooks.register_known("grow_outs", known_of)


def let_garden_go(*, garden: Garden) -> None:
    """Nothing open may be left behind in it. Its offers and plantings go with it; where it was
    all that somebody offered, their offer is withdrawn.
    """
    bound = Commitment.objects.open().filter(garden=garden).select_related("variety").first()
    if bound is not None:
        raise Conflict(
            _(
                "%(variety)s is promised or offered in “%(garden)s”. Answer it, or say what "
                "became of it, and then remove the garden."
            )
            % {"variety": bound.variety.name, "garden": garden.name}
        )
    alone = (
        GrowerOffer.objects.of(garden.member)
        .filter(gardens__garden=garden, withdrawn_at=None, season__closed_on=None)
        .values_list("pk", flat=True)
    )
    counted = GrowerOffer.objects.filter(pk__in=list(alone)).annotate(n=Count("gardens"))
    left = [offer.pk for offer in counted if offer.n == 1]
    GrowerOffer.objects.filter(pk__in=left).update(withdrawn_at=timezone.now())


def keep_to_the_garden(*, loan: Loan) -> None:
    """What was promised for one garden is not grown in another: others count on the place."""
    if promise_of(loan) is not None:
        raise Conflict(
            _(
                "This packet is for a grow-out that was promised in that garden; others may "
                "count on it. A coordinator can call it off and ask you for another garden."
            ),
            field="garden",
        )


def packets_together(*, loan: Loan) -> list[int]:
    """All packets of a promise are fetched at once."""
    promise = promise_of(loan)
    rows = promise.lent.values_list("loan", flat=True) if promise else []
    return list(rows)


def forget_offers(*, member: Member, **_told: Any) -> None:
    """What they offered and wished is personal, and goes; gardens and plantings do too."""
    GrowerOffer.objects.of(member).delete()
