"""Why a plan came to nothing, in sentences, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from library.growouts.models import Commitment, Plan
from library.growouts.plans.given import garden_key, variety_key
from library.growouts.plans.reading import Names
from library.growouts.plans.words import because


@dataclass(frozen=True)
class Trouble:
    """``clashes`` are sentences, one for each pinned pair that cannot be."""

    clashes: list[str]
    failed: str


def trouble_of(plan: Plan) -> Trouble:
    """What went wrong with a plan that failed; three queries."""
    clashes = plan.trouble.get("clash", [])
    names = Names([garden for _v, garden, _why in clashes], [v for v, _g, _why in clashes])
    bound = _bound(plan) if clashes else {}
    return Trouble(
        [_sentence(clash, names, bound) for clash in clashes], plan.trouble.get("failed", "")
    )


def _sentence(clash: list[str], names: Names, bound: dict[tuple[str, str], str]) -> str:
    variety, garden, why = clash
    facts = {
        "variety": names.variety(variety),
        "garden": names.garden(garden),
        "why": because(why),
        "state": bound.get((variety, garden), ""),
    }
    if facts["state"]:
        return _("%(variety)s in %(garden)s (%(state)s) cannot be: %(why)s.") % facts
    return _("%(variety)s in %(garden)s cannot be: %(why)s.") % facts


def _bound(plan: Plan) -> dict[tuple[str, str], str]:
    """What was offered or promised, which a plan keeps as it keeps a decision."""
    rows = Commitment.objects.open().filter(season=plan.season_id)
    return {
        (variety_key(row.variety_id), garden_key(row.garden_id)): row.get_state_display()
        for row in rows
    }
