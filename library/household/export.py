"""What a household plans, for that member's own copy."""

from __future__ import annotations

from typing import Any

from accounts.models import Member
from library.household.models import SavedVariety, SavingPlan


def known_of(*, member: Member) -> dict[str, Any]:
    """Their lists of what to save seed of, with room and techniques."""
    return {
        "lists": list(
            SavingPlan.objects.of(member).values(
                "garden__name",
                "year",
                "room_m2",
                "apart_m",
                "years_ahead",
                "chance_percent",
                "made_at",
            )
        ),
        "varieties": list(
            SavedVariety.objects.of(member).values(
                "plan__garden__name",
                "plan__year",
                "variety__name",
                "lot__number",
                "plants",
                "technique",
                "keeps_years",
                "note",
                "added_at",
            )
        ),
    }
