"""What was taken away from a household's plans comes back as it was, if its place is free."""

from __future__ import annotations

from typing import cast

from django.db import models, transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library import kept as keeping
from library.errors import Conflict
from library.growouts.services.checks import locked_member
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan

Thing = SavingPlan | SavedVariety | KitchenPlan | Dish
HANGS_ON = {SavingPlan: "choices", KitchenPlan: "dishes"}


def as_kept(thing: Thing) -> str:
    """A list, a plan or one line of it, with all that hangs on it, as text to be kept."""
    hanging = HANGS_ON.get(type(thing))
    return keeping.as_kept(
        [thing, *(getattr(thing, hanging).order_by("pk") if hanging else [])]
    )


@transaction.atomic
def put_back(*, kept: str, by: Member) -> Thing:
    """Write down again what ``as_kept`` told, with the same numbers, in one's own garden."""
    locked_member(by)
    rows = keeping.rows_kept(kept)
    first = cast(Thing, rows[0])
    garden = _garden_of(first)
    if garden is None or not Garden.objects.filter(member=by, pk=garden).exists():
        raise Conflict(_("The garden or the list it was on is gone."))
    keeping.write_back(rows)
    return first


def _garden_of(thing: Thing) -> int | None:
    """The garden of a plan; of a line, that of its plan, if the plan is still there."""
    if isinstance(thing, SavingPlan | KitchenPlan):
        return thing.garden_id
    plans: type[models.Model] = SavingPlan if isinstance(thing, SavedVariety) else KitchenPlan
    return (
        plans._default_manager.filter(pk=thing.plan_id).values_list("garden", flat=True).first()
    )
