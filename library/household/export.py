"""What a household plans, for that member's own copy."""

from __future__ import annotations

from typing import Any

from accounts.models import Member
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan
from library.household.services.kitchen import DISH_FIELDS


def known_of(*, member: Member) -> dict[str, Any]:
    """Their lists of what to save seed of, with room and techniques; and their kitchen."""
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
        "kitchens": list(
            KitchenPlan.objects.of(member).values(
                "garden__name", "year", "margin_percent", "made_at"
            )
        ),
        "dishes": list(
            Dish.objects.of(member).values(
                "plan__garden__name",
                "plan__year",
                "crop__name",
                "variety__name",
                *(name for name in DISH_FIELDS if name != "variety"),
            )
        ),
    }
