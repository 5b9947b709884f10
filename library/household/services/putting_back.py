"""What was taken away comes back as it was, as long as its place is free."""

from __future__ import annotations

from collections.abc import Iterator

from django.core import serializers
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.errors import Conflict
from library.growouts.services.checks import locked_member
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan

Thing = SavingPlan | SavedVariety | KitchenPlan | Dish
HANGS_ON = {SavingPlan: "choices", KitchenPlan: "dishes"}


def as_kept(thing: Thing) -> str:
    """A list, a plan or one line of it, with all that hangs on it, as text to be kept."""
    hanging = HANGS_ON.get(type(thing))
    rows = [thing, *(getattr(thing, hanging).order_by("pk") if hanging else [])]
    return serializers.serialize("json", rows)


@transaction.atomic
def put_back(*, kept: str, by: Member) -> Thing:
    """Write down again what ``as_kept`` told, with the same numbers, in one's own garden."""
    locked_member(by)
    first, *hanging = _rows(kept)
    garden = _garden_of(first)
    if garden is None or not Garden.objects.filter(member=by, pk=garden).exists():
        raise Conflict(_("The garden or the list it was on is gone."))
    try:
        for row in (first, *hanging):
            row.full_clean()  # its place may be taken, and what it names may be gone
            row.save(force_insert=True)
    except ValidationError as error:
        raise Conflict(_("Its place is taken by now; it was not put back.")) from error
    return first


def _rows(kept: str) -> Iterator[Thing]:
    for row in serializers.deserialize("json", kept):
        yield row.object  # type: ignore[misc]


def _garden_of(thing: Thing) -> int | None:
    """The garden of a plan; of a line, that of its plan, if the plan is still there."""
    if isinstance(thing, SavingPlan | KitchenPlan):
        return thing.garden_id
    plans: type[models.Model] = SavingPlan if isinstance(thing, SavedVariety) else KitchenPlan
    return (
        plans._default_manager.filter(pk=thing.plan_id).values_list("garden", flat=True).first()
    )
