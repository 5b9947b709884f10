"""Whether what is saved of the kitchen's crops would cross, as the list of seed says it."""

from __future__ import annotations

import datetime as dt

from library.household.kitchen.reckoning import Kitchen
from library.household.listed import listed_for
from library.household.meeting import own_stands
from library.household.models import SavedVariety, SavingPlan
from library.household.words import PairLine, pair_lines


def list_of(kitchen: Kitchen) -> SavingPlan | None:
    """The garden's list of seed for the same year, if there is one."""
    plan = kitchen.plan
    return SavingPlan.objects.filter(garden=plan.garden, year=plan.year).first()


def pairs_of(kitchen: Kitchen, there: SavingPlan | None, *, on: dt.date) -> list[PairLine]:
    """The pairs of which one is a variety to be saved from this kitchen; ``there`` is the list
    of seed that it would be taken over into.
    """
    plan = there or SavingPlan(garden=kitchen.plan.garden, year=kitchen.plan.year)
    plan.garden = kitchen.plan.garden
    known = {} if there is None else {c.variety_id: c for c in there.choices.with_details()}
    ours = {one.dish.variety_id: one.dish.variety for one in kitchen.to_save}
    new = [
        SavedVariety(plan=plan, variety=variety, plants=kitchen.plants_for_seed.get(pk or 0))
        for pk, variety in ours.items()
        if pk not in known and variety is not None
    ]
    listed = listed_for([*known.values(), *new], on=on)
    keys = {one.key for one in listed if one.variety.pk in ours}
    return [
        line
        for line in pair_lines(own_stands(plan, listed), listed)
        if keys & {line.meeting.one.key, line.meeting.other.key}
    ]
