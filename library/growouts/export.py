"""What grow-outs keep of a member, for that member's own copy."""

from __future__ import annotations

from typing import Any

from accounts.models import Member
from library.growouts.models import Commitment, GardenOffer, GrowerOffer, OwnPlanting


def known_of(*, member: Member) -> dict[str, Any]:
    """What they offered, grow for themselves, were asked and promised."""
    commitments = Commitment.objects.of(member).order_by("pk")
    return {
        "offers": list(
            GrowerOffer.objects.of(member).values(
                "season__year", "most", "wishes", "made_at", "withdrawn_at"
            )
        ),
        "offered_gardens": list(
            GardenOffer.objects.filter(offer__member=member).values(
                "offer__season__year",
                "garden__name",
                "room_m2",
                "room_next_m2",
                "can_cage",
                "can_bag",
                "can_pollinate_by_hand",
            )
        ),
        "plantings": list(
            OwnPlanting.objects.of(member).values(
                "year",
                "garden__name",
                "species__botanical_name",
                "variety__name",
                "name",
                "plants",
                "room_m2",
                "flowers",
                "for_seed",
                "note",
            )
        ),
        "promises": list(
            commitments.values(
                "season__year",
                "variety__name",
                "garden__name",
                "state",
                "plants",
                "offered_at",
                "answered_on",
                "answer_note",
                "closed_on",
                "cause",
                "outcome_note",
            )
        ),
    }
