"""Why a plan came to nothing, in sentences, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from library.growouts.models import Plan
from library.growouts.plans.reading import Names
from library.growouts.plans.words import because


@dataclass(frozen=True)
class Trouble:
    """``clashes`` are sentences, one for each pinned pair that cannot be."""

    clashes: list[str]
    failed: str


def trouble_of(plan: Plan) -> Trouble:
    """What went wrong with a plan that failed; two queries."""
    clashes = plan.trouble.get("clash", [])
    names = Names([garden for _v, garden, _why in clashes], [v for v, _g, _why in clashes])
    return Trouble(
        [
            _("%(variety)s in %(garden)s cannot be: %(why)s.")
            % {
                "variety": names.variety(variety),
                "garden": names.garden(garden),
                "why": because(why),
            }
            for variety, garden, why in clashes
        ],
        plan.trouble.get("failed", ""),
    )
